// Frame: what surrounds every screen, with who looks at it. Pure.
#pragma once

#include <optional>
#include <string>

#include "bench/page/views/html.hpp"
#include "bench/page/views/page_words.hpp"

namespace tipwright::page {

// Who looks, and from where.
struct Visitor {
    std::string path;               // of this screen, for links back to it
    bool desk = false;              // there is more than the bench to see
    std::string token;              // goes into every form; empty: no commands
    std::string person;             // logged in; empty: nobody
    std::string trial_passphrase;   // everybody's; empty: this is no trial
    std::optional<Fault> unlogged;  // why a stop is not in the audit log
};

// A document up to what stands in its head besides.
Html document_head(const PageWords& words, const std::string& title);

// The whole document around a screen. `main` is what stands in <main>.
Html frame(const Visitor& visitor, const PageWords& words, std::string_view screen, const std::string& title,
           const Html& main);

// A notice that stands alone: nothing found, not allowed, done.
// back: a path of this site to go back to; empty: the bench alone.
Html notice(const PageWords& words, const std::string& sentence, const std::string& next,
            const std::string& back = {});

}  // namespace tipwright::page
