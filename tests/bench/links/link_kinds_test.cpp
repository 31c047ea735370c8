// What holds for every kind of link: a new one is tested here without a line of its own. That its bytes come
// and go has a test of its own, which is looked for below.
#include <catch2/catch.hpp>

#include <filesystem>
#include <regex>
#include <set>
#include <string>

#include "bench/links/link_kinds.hpp"
#include "bench/links/link_lock.hpp"
#include "tests/support/source_files.hpp"

using namespace tipwright;
using namespace tipwright::bench;
namespace fs = std::filesystem;

namespace {

const fs::path top = tipwright::test::source_dir();

std::string with_host(std::string form, const std::string& host_and_port) {
    const std::string place = "HOST:PORT";
    if (const auto at = form.find(place); at != std::string::npos)
        form.replace(at, place.size(), host_and_port);
    return form;
}

// What stands in the first column of their table.
std::set<std::string> rows_of_links(const std::string& readme) {
    const std::size_t begin = readme.find("\n| link | what it is |\n");
    REQUIRE(begin != std::string::npos);
    const std::string table = readme.substr(begin, readme.find("\n\n", begin + 1) - begin);
    static const std::regex row("\n\\| `([^`]+)` \\| ");
    std::set<std::string> rows;
    for (std::sregex_iterator at(table.begin(), table.end(), row), end; at != end; ++at)
        rows.insert((*at)[1]);
    return rows;
}

// A test opens a link of the kind: "tcp " + address, or "serial /dev/...".
bool is_opened_by_a_test(const LinkKind& kind) {
    for (const char* folder : {"tests/bench/links", "tests/serial"})
        for (const auto& file : fs::directory_iterator(top / folder))
            if (file.path().filename() != "link_kinds_test.cpp" && file.path().extension() == ".cpp" &&
                tipwright::test::content_of(file).find("make_link(context, \"" + std::string(kind.name) +
                                                       " ") != std::string::npos)
                return true;
    return false;
}

}  // namespace

TEST_CASE("every kind of link is understood as it is written for people, and stands in their README") {
    std::set<std::string> rows = rows_of_links(tipwright::test::content_of(top / "templates/README.md"));
    REQUIRE(link_kinds().size() >= 3);
    for (const LinkKind& kind : link_kinds()) {
        REQUIRE_FALSE(kind.forms[0].empty());
        for (const std::string_view written : kind.forms) {
            if (written.empty()) continue;
            const std::string form = std::string(kind.name) + " " + std::string(written);
            INFO(form);
            CHECK(check_link(with_host(form, "192.0.2.10:4001")));
            CHECK(rows.erase(form) == 1);
            CHECK(check_link("carrier-pigeon 7").fault().remedy.find(form) != std::string::npos);
            CHECK((kind.target == LinkTarget::host_and_port) == (written == "HOST:PORT"));
        }
    }
    CHECK(rows.empty());
}

TEST_CASE("every kind of link is locked alike under all names of what it leads to") {
    for (const LinkKind& kind : link_kinds()) {
        const std::string name(kind.name);
        INFO(name);
        if (kind.target == LinkTarget::host_and_port) {
            CHECK(device_of(name + " localhost:05001") == device_of(name + " 127.0.0.1:5001"));
            CHECK(device_of(name + " [::1]:5001") == device_of(name + " 127.0.0.1:5001"));
        } else {
            CHECK(device_of(name + " /dev/./null") == device_of(name + " /dev/null"));
        }
    }
}

TEST_CASE("every kind of link has a test that opens it") {
    for (const LinkKind& kind : link_kinds()) {
        INFO(kind.name << ": write a test in tests/bench/links that its bytes come and go");
        CHECK(is_opened_by_a_test(kind));
    }
}
