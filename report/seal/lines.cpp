#include "report/seal/lines.hpp"

namespace tipwright::seal {

bool LineReader::next() {
    if (text_.empty()) return false;
    const std::size_t end = text_.find('\n');
    ++number_;
    if (end == std::string_view::npos) {
        line_ = {};  // a line cut short is no line
        text_ = {};
        return true;
    }
    line_ = text_.substr(0, end);
    text_.remove_prefix(end + 1);
    return true;
}

std::vector<std::string> LineReader::words() const {
    std::vector<std::string> out;
    std::string_view rest = line_;
    for (;;) {
        const std::size_t space = rest.find(' ');
        out.emplace_back(rest.substr(0, space));
        if (space == std::string_view::npos) return out;
        rest.remove_prefix(space + 1);
    }
}

Fault LineReader::fault(FaultCode code, std::string what) const {
    return {code, std::move(what), name_ + ":" + std::to_string(number_), ""};
}

}  // namespace tipwright::seal
