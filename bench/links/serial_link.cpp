// Serial: libserialport opens and configures, its handle goes to Asio.
#include <boost/asio/posix/stream_descriptor.hpp>

#include "bench/links/open_links.hpp"
#include "bench/links/port_modem_lines.hpp"
#include "bench/links/serial_port.hpp"
#include "bench/links/stream_link.hpp"

namespace tipwright::bench {

namespace {

using Descriptor = boost::asio::posix::stream_descriptor;

class SerialLink final : public StreamLink<Descriptor> {
public:
    SerialLink(boost::asio::io_context& context, std::unique_ptr<SerialPort> port, std::string described,
               const SerialSettings& settings)
        : StreamLink(Descriptor(context, port->handle()), port->path()),
          port_(std::move(port)),
          described_(std::move(described)),
          settings_(settings) {}
    SerialLink(const SerialLink&) = delete;
    SerialLink& operator=(const SerialLink&) = delete;
    ~SerialLink() override { give_back(); }

    void close() override { give_back(); }

    bool can_reopen() const override { return true; }

    ModemLines* modem_lines() override {
        if (!lines_ && port_) lines_ = modem_lines_of(port_->handle(), port_->path());
        return lines_.get();
    }

    // By USB serial number the adapter is found again under whatever path it has now.
    Task<Outcome> reopen() override {
        give_back();
        auto port = SerialPort::open(described_, settings_);
        if (!port) co_return port.fault();
        boost::system::error_code error;
        static_cast<void>(stream().assign((*port)->handle(), error));
        if (error) co_return link_fault(name(), error);
        port_ = std::move(*port);
        co_return Done{};
    }

private:
    // The handle belongs to the port, which closes it.
    void give_back() {
        if (stream().is_open()) {
            boost::system::error_code ignored;
            static_cast<void>(stream().cancel(ignored));
            stream().release();
        }
        lines_.reset();
        port_.reset();
    }

    std::unique_ptr<SerialPort> port_;
    std::unique_ptr<ModemLines> lines_;
    std::string described_;
    SerialSettings settings_;
};

}  // namespace

Result<std::unique_ptr<Link>> open_serial_link(boost::asio::io_context& context, const std::string& port,
                                               const SerialSettings& settings) {
    auto opened = SerialPort::open(port, settings);
    if (!opened) return opened.fault();
    return std::unique_ptr<Link>(std::make_unique<SerialLink>(context, std::move(*opened), port, settings));
}

}  // namespace tipwright::bench
