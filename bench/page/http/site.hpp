// Site: from a request to the answer: which screen, which command, and who may. Asks the work folder for what
// is going on and the views for how it looks.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "bench/page/desk/desk.hpp"
#include "bench/page/desk/pairing.hpp"
#include "bench/page/http/hub.hpp"
#include "bench/page/http/message.hpp"
#include "bench/page/live/work_folder.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

struct SiteOptions {
    std::filesystem::path templates;
    Names names;
    std::string trial_passphrase;          // everybody's, and the seal's; empty: no trial
    std::shared_ptr<Pairing> pairing;      // over a network; null: every device sees the page
    std::function<std::string()> utc_now;  // for the list of paired devices
    LocalMoment local_moment;              // how moments are shown; none: in UTC
    OtherUnit other_unit;                  // shown beside mm/h
};

class Site {
public:
    // Faults: those of the words and of the files in templates/page; not_permitted when no token can be made.
    // `desk`: null where there is none; then only runs are shown and stopped.
    static Result<std::unique_ptr<Site>> open(SiteOptions options, WorkFolder& work, Hub& hub, Desk* desk);
    ~Site();

    // Never throws for what is in the request.
    Response answer(Request request);
    // Everything as it stands, as an event.
    std::string everything(const std::string& language);
    // To be called when the work folder says that something changed; sends what is new to the listeners.
    void tell_changes(bool runs_too);

private:
    struct State;
    explicit Site(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace tipwright::page
