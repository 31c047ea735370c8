// Screens: from facts to HTML and to the texts that change while a page is open. Pure: no file, no clock, no
// socket. Each screen answers one question.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "bench/page/live/run_facts.hpp"
#include "bench/page/live/work_folder.hpp"
#include "bench/page/views/html.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

// Who looks, and from where.
struct Visitor {
    std::string path;              // of this screen, for links back to it
    bool desk = false;             // there is more than the bench to see
    std::string token;             // goes into every form; empty: no commands
    std::string person;            // logged in; empty: nobody
    std::string trial_passphrase;  // everybody's; empty: this is no trial
    std::string unlogged;          // why a stop is not in the audit log
};

// A text of the page that changes, under the name of its place: "r3.error".
using ShownText = std::pair<std::string, std::string>;
std::vector<ShownText> shown_texts(const RunFacts& run, const PageWords& words);

// A document up to what stands in its head besides.
Html document_head(const PageWords& words, const std::string& title);

// The whole document around a screen. `main` is what stands in <main>.
Html frame(const Visitor& visitor, const PageWords& words, std::string_view screen, const std::string& title,
           const Html& main);

// "What is going on?"
Html going_on(const Visitor& visitor, const PageWords& words, const std::vector<RunFacts>& runs,
              const std::vector<EarlierRun>& earlier);

struct RunPictures {
    std::vector<std::pair<std::string, std::string>> charts;  // title, SVG
    std::string minutes;                                      // SVG; empty: nothing to draw
};
// "One run."
Html one_run(const Visitor& visitor, const PageWords& words, const RunFacts& run,
             const RunPictures& pictures);
// The pictures of it alone, to be put in place of the old ones.
Html run_pictures(const PageWords& words, const RunPictures& pictures);

// A notice that stands alone: nothing found, not allowed, done.
Html notice(const PageWords& words, const std::string& sentence, const std::string& next);

std::string run_path(const std::string& id);

}  // namespace tipwright::page
