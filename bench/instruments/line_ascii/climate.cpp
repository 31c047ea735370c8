#include "bench/instruments/line_ascii/device.hpp"
#include "bench/instruments/line_ascii/instruments.hpp"

namespace tipwright::bench {

namespace {

class LineClimateDevice final : public LineDevice {
public:
    using LineDevice::LineDevice;

    Task<Result<ClimateReading>> read() {
        Result<std::string> answer = co_await exchange(profile().read, "the question for a reading");
        if (!answer) co_return answer.fault();
        co_return reading_;
    }

private:
    bool is_reading(const LineCommand& command, std::string_view line, double arrived_s) override {
        ClimateReading reading;
        if (&command != &profile().read || !read_climate(profile().climates, line, reading)) return false;
        reading_ = reading;
        reading_.arrived_s = arrived_s;
        return true;
    }

    double reopen_limit_s() const override { return 60; }

    ClimateReading reading_;
};

class LineClimate final : public ClimateSensor {
public:
    explicit LineClimate(std::shared_ptr<LineClimateDevice> device) : device_(std::move(device)) {}
    LineClimate(const LineClimate&) = delete;
    LineClimate& operator=(const LineClimate&) = delete;
    ~LineClimate() override { device_->close(); }

    std::string name() const override { return device_->name(); }
    Task<Result<std::string>> identify() override { return device_->identify(); }
    void on_link_change(LinkListener listener) override { device_->on_link_change(std::move(listener)); }
    Task<Result<ClimateReading>> read() override { return device_->read(); }

private:
    std::shared_ptr<LineClimateDevice> device_;
};

}  // namespace

std::unique_ptr<ClimateSensor> make_line_climate(LineProfilePtr profile, std::unique_ptr<Link> link,
                                                 Clock& clock, boost::asio::io_context& context,
                                                 std::string name) {
    auto device =
        std::make_shared<LineClimateDevice>(std::move(profile), std::move(link), clock, std::move(name));
    device->start_reading(context);
    return std::make_unique<LineClimate>(std::move(device));
}

}  // namespace tipwright::bench
