#include "bench/instruments/modbus/profile.hpp"

#include <algorithm>

namespace tipwright::bench {

namespace {

constexpr std::size_t entries_max = 16;
constexpr double scale_max = 1e9;
constexpr int identity_registers_max = 32;

ModbusType read_type(TomlTable& table) {
    return static_cast<ModbusType>(table.choice("type", {"uint16", "int16", "uint32", "int32", "float32"}));
}

double read_scale(TomlTable& table) {
    const double scale = table.number("scale", {-scale_max, scale_max, ""}, 1);
    if (scale == 0) table.fault(FaultCode::bad_value, "scale", "scale is 0", "a number must come out of it");
    return scale;
}

std::vector<TomlTable> entries(TomlTable& root, std::string_view key) {
    std::vector<TomlTable> tables = root.tables(key);
    if (tables.size() > entries_max) {
        root.fault(FaultCode::bad_value, key, "more than " + std::to_string(entries_max) + " of them", "");
        tables.erase(tables.begin() + entries_max, tables.end());
    }
    return tables;
}

// `takes`: an entry without a value takes a number.
ModbusWrite read_write(TomlTable& table, bool takes) {
    ModbusWrite write;
    write.function = table.choice("function", {"write-one", "write-many"}, 0) == 0
                         ? ModbusFunction::write_one
                         : ModbusFunction::write_many;
    write.address = table.whole_number("register", 0, 65535);
    write.type = read_type(table);
    if (!takes || table.has("value")) {
        write.value = table.number("value", {-4294967296.0, 4294967296.0, ""});
    } else {
        write.scale = read_scale(table);
    }
    if (write.value && !modbus_registers_of(write.type, *write.value, false)) {
        table.fault(FaultCode::bad_value, "value", "value does not fit the type", "");
    }
    if (write.function == ModbusFunction::write_one && modbus_registers(write.type) == 2) {
        table.fault(FaultCode::bad_value, "type", "two registers cannot be written with write-one",
                    "use function = \"write-many\"");
    }
    table.finish();
    return write;
}

// `takes`: what the entry without a value takes, "flow"; empty: every entry has its fixed value.
ModbusWrites read_writes(TomlTable& root, std::string_view key, bool required, std::string_view takes = "") {
    ModbusWrites writes;
    for (TomlTable& table : entries(root, key)) writes.push_back(read_write(table, !takes.empty()));
    if (required && writes.empty()) {
        root.fault(FaultCode::missing_field, key, "[[" + std::string(key) + "]] is not given",
                   "say which register is written");
    }
    const bool taken =
        std::any_of(writes.begin(), writes.end(), [](const ModbusWrite& write) { return !write.value; });
    if (!takes.empty() && !writes.empty() && !taken) {
        root.fault(FaultCode::bad_value, key,
                   "no register of [[" + std::string(key) + "]] takes the " + std::string(takes),
                   "leave value out of the entry that takes it, and give scale");
    }
    return writes;
}

ModbusFunction read_function(TomlTable& table, std::string_view key, int absent) {
    return table.choice(key, {"holding", "input"}, absent) == 0 ? ModbusFunction::read_holding
                                                                : ModbusFunction::read_input;
}

// Registers that are written again and again, or one that is read: whichever the pump takes for a sign of
// life.
void read_keep_alive(TomlTable& root, ModbusProfile& profile) {
    TomlTable read = root.table("keep_alive_read");
    if (read.given()) {
        profile.keep_alive_read.emplace();
        profile.keep_alive_read->function = read_function(read, "function", 0);
        profile.keep_alive_read->address = read.whole_number("register", 0, 65535);
    }
    read.finish();
    profile.keep_alive = read_writes(root, "keep_alive", profile.own_timeout_s > 0 && !read.given());
    if (read.given() && !profile.keep_alive.empty()) {
        root.fault(FaultCode::inconsistent, "keep_alive", "the keep-alive is both written and read",
                   "give [[keep_alive]] or [keep_alive_read]");
    }
}

void read_own_timeout(TomlTable& root, ModbusProfile& profile) {
    profile.arm = read_writes(root, "arm", profile.own_timeout_s > 0, "time limit");
    read_keep_alive(root, profile);
    if (profile.own_timeout_s <= 0 && !profile.arm.empty()) {
        root.fault(FaultCode::missing_field, "arm", "[[arm]] arms a time limit that is not given",
                   "add own_timeout_s to [timing]");
    }
}

std::optional<ModbusRegisters> read_identity(TomlTable table) {
    if (!table.given()) return std::nullopt;
    ModbusRegisters text;
    text.function = read_function(table, "function", 0);
    text.address = table.whole_number("register", 0, 65535);
    text.count = table.whole_number("count", 1, identity_registers_max);
    table.finish();
    return text;
}

bool known_field(Role role, const std::string& field) {
    if (role == Role::balance) return field == "mass_g" || field == "mass_kg" || field == "mass_mg";
    return field == "water_temperature_C" || field == "air_temperature_C" || field == "air_pressure_hPa" ||
           field == "air_pressure_kPa" || field == "relative_humidity_percent";
}

void read_block(TomlTable& root, Role role, ModbusBlock& block) {
    block.function = read_function(root, "read_function", 1);
    int first = 65536;
    int end = 0;
    auto cover = [&](int address, int count) {
        first = std::min(first, address);
        end = std::max(end, address + count);
    };
    for (TomlTable& table : entries(root, "read")) {
        ModbusQuantity quantity;
        quantity.field = table.text("field");
        if (!known_field(role, quantity.field)) {
            table.fault(FaultCode::bad_value, "field",
                        in_quotes(quantity.field) + " is not a quantity of this role", "");
        }
        quantity.address = table.whole_number("register", 0, 65535);
        quantity.type = read_type(table);
        quantity.scale = read_scale(table);
        quantity.offset = table.number("offset", {-scale_max, scale_max, ""}, 0);
        quantity.decimals = table.whole_number("decimals", 0, 9);
        table.finish();
        for (const ModbusQuantity& other : block.quantities) {
            if (other.field == quantity.field) {
                table.fault(FaultCode::duplicate, "field", in_quotes(quantity.field) + " is read twice", "");
            }
        }
        cover(quantity.address, modbus_registers(quantity.type));
        block.quantities.push_back(std::move(quantity));
    }
    TomlTable status = root.table("status");
    if (status.given()) {
        block.status_address = status.whole_number("register", 0, 65535);
        block.stable_bits = status.whole_number("stable_bits", 0, 65535, 0);
        block.overload_bits = status.whole_number("overload_bits", 0, 65535, 0);
        cover(*block.status_address, 1);
    }
    status.finish();
    const std::size_t wanted = role == Role::balance ? 1 : 4;
    if (block.quantities.size() != wanted) {
        root.fault(FaultCode::missing_field, "read",
                   role == Role::balance
                       ? "a balance has one [[read]], of its mass"
                       : "a climate sensor has four [[read]]: water and air temperature, air "
                         "pressure, humidity",
                   "");
        return;
    }
    if (end - first > modbus_read_max) {
        root.fault(FaultCode::bad_value, "read",
                   "the registers from " + std::to_string(first) + " to " + std::to_string(end - 1) +
                       " are too far apart to be read together",
                   "at most 125 registers go into one request");
    }
    block.address = first;
    block.count = end - first;
}

}  // namespace

std::shared_ptr<const ModbusProfile> parse_modbus_profile(TomlTable& root, Role role,
                                                          const SerialSettings& serial) {
    auto profile = std::make_shared<ModbusProfile>();
    profile->unit = root.whole_number("unit", 1, 247);
    profile->low_word_first = root.choice("word_order", {"high-first", "low-first"}, 0) == 1;
    TomlTable timing = root.table("timing");
    profile->times.answer_s = timing.number("answer_s", {0.01, 60, "s"}, 0.5);
    profile->times.retries = timing.whole_number("retries", 0, 10, 2);
    profile->times.gap_s = modbus_silence_s(serial.baud);
    profile->times.byte_s = modbus_byte_s(serial.baud);
    if (role == Role::balance) {
        profile->poll_interval_s = timing.number("poll_interval_s", {0, 60, "s"}, 0.2);
    }
    if (role == Role::pump) {
        profile->own_timeout_s = timing.number("own_timeout_s", {0.5, 600, "s"}, profile->own_timeout_s);
    }
    timing.finish();
    profile->identity = read_identity(root.table("identity"));
    if (role == Role::pump) {
        profile->set_flow = read_writes(root, "set_flow", true, "flow");
        profile->stop = read_writes(root, "stop", true);
        profile->drain_open = read_writes(root, "drain_open", false);
        profile->drain_close = read_writes(root, "drain_close", !profile->drain_open.empty());
        read_own_timeout(root, *profile);
    } else {
        read_block(root, role, profile->block);
        if (role == Role::balance) profile->tare = read_writes(root, "tare", false);
    }
    return profile;
}

}  // namespace tipwright::bench
