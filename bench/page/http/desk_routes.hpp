// DeskRoutes: which path leads to which screen or command of the desk, and who may. Asks the desk and shows
// what it says; runs on the desk's thread, never on the one that serves.
#pragma once

#include <deque>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "bench/page/desk/desk.hpp"
#include "bench/page/desk/sessions.hpp"
#include "bench/page/http/message.hpp"
#include "bench/page/views/frame.hpp"
#include "report/certificate/drawing.hpp"

namespace tipwright::page {

class DeskRoutes {
public:
    // Whole document around a screen.
    using Framed = std::function<Response(std::string_view screen, const std::string& title, const Html& main,
                                          int status)>;

    DeskRoutes(Desk& desk, Sessions& sessions, std::unique_ptr<report::certificate::Drawing> measure,
               bool encrypted)
        : desk_(desk), sessions_(sessions), measure_(std::move(measure)), encrypted_(encrypted) {}

    // Whether answer() is to be asked.
    static bool knows(const Request& request);
    // Into the audit log. `actor`: who was logged in.
    Outcome note(const Request& request, const std::optional<report::Actor>& actor,
                 std::vector<std::pair<std::string, std::string>> more = {});
    // Of a GET, or of a POST whose origin and token are good already.
    Response answer(Request request, const Visitor& visitor, const std::optional<report::Actor>& actor,
                    const PageWords& words, const Framed& framed);

private:
    struct Asked;
    Response look(Asked& asked);
    Response command(Asked& asked);
    Response log_in_page(Asked& asked, const std::string& wrong, int status);
    Response log_in(Asked& asked);
    std::optional<CheckGaugeSeen> check_gauge();
    Response gauge_on(Asked& asked);
    std::vector<Offer> known_gauges();
    Response start(Asked& asked);
    Response recover(Asked& asked);
    Response adjust(Asked& asked);
    Response turned(Asked& asked);
    Response field_sheet(Asked& asked, const Fields& typed, const std::string& wrong, int status);
    Response field_check(Asked& asked);
    Response certificates(Asked& asked);
    Response certificate(Asked& asked, const Result<report::Certificate>& found);
    Response draft_command(Asked& asked);
    Response years(Asked& asked);
    Response life(Asked& asked);
    Response machine(Asked& asked);

    Desk& desk_;
    Sessions& sessions_;
    std::unique_ptr<report::certificate::Drawing> measure_;
    bool encrypted_ = false;
    std::deque<std::pair<std::string, FieldCheckSeen>> sheets_;  // of field checks, the newest last
};

// A path of this site, with its question, as it may stand in a header; anything else is "/".
std::string path_within(const std::string& wanted);
Response redirect_to(std::string path);

}  // namespace tipwright::page
