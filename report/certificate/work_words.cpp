#include "report/certificate/work_words.hpp"

#include <optional>

#include "report/certificate/numbers.hpp"

namespace tipwright::report::certificate {

namespace {

std::string one_work(const Words& words, const ServiceWork& work) {
    std::vector<std::string> parts;
    for (const std::string* part : {&work.found, &work.done})
        if (!part->empty()) parts.push_back(*part);
    const auto turns = [&](const std::optional<double>& value) {
        return value ? Numbers(words).significant(*value, 3) : std::string("–");
    };
    if (work.turns_a || work.turns_b)
        parts.push_back(words.text("method.turns", {{"a", turns(work.turns_a)}, {"b", turns(work.turns_b)}}));
    std::string out = words.date(work.on) + ":";
    for (const std::string& part : parts) out += (&part == &parts.front() ? " " : "; ") + part;
    return out;
}

}  // namespace

std::vector<std::string> work_words(const Words& words, const std::vector<ServiceWork>& work) {
    std::vector<std::string> out;
    out.reserve(work.size());
    for (const ServiceWork& one : work) out.push_back(one_work(words, one));
    return out;
}

}  // namespace tipwright::report::certificate
