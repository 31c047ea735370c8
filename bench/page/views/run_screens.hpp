// Screens of runs: from facts to HTML and to the texts that change while a page is open. Pure: no file, no
// clock, no socket. Each screen answers one question.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "bench/page/live/run_facts.hpp"
#include "bench/page/live/work_folder.hpp"
#include "bench/page/views/frame.hpp"

namespace tipwright::page {

// A text of the page that changes, under the name of its place: "r3.error".
using ShownText = std::pair<std::string, std::string>;
std::vector<ShownText> shown_texts(const RunFacts& run, const PageWords& words);

// "What is going on?" just_stopped: the run that somebody tapped a stop of just now; empty: everything.
Html going_on(const Visitor& visitor, const PageWords& words, const std::vector<RunFacts>& runs,
              const std::vector<EarlierRun>& earlier, const std::optional<std::string>& just_stopped = {});

struct RunPictures {
    std::vector<std::pair<std::string, std::string>> charts;  // title, SVG
    std::string minutes;                                      // SVG; empty: nothing to draw
};
// "One run."
Html one_run(const Visitor& visitor, const PageWords& words, const RunFacts& run,
             const RunPictures& pictures);
// The pictures of it alone, to be put in place of the old ones.
Html run_pictures(const PageWords& words, const RunPictures& pictures);

std::string run_path(const std::string& id);

}  // namespace tipwright::page
