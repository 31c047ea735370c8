// Request and Response as the site sees them: no socket, no library. And what of a request is checked before
// any screen is asked: pure functions.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tipwright::page {

using Fields = std::map<std::string, std::string, std::less<>>;

struct Request {
    std::string method;  // "GET", "POST", "HEAD"
    std::string path;    // decoded, begins with a slash
    Fields query;
    Fields form;  // of an urlencoded body
    Fields cookies;
    std::string host;
    std::string origin;
    std::string fetch_site;  // Sec-Fetch-Site
    std::string accept_language;
    std::string body;
    std::string content_type;
    bool has_host = false;
    bool part = false;  // the script asks for a part of the page
    bool encrypted = false;
    std::string device;       // the address it comes from
    std::string device_name;  // what a paired device is called; empty: it is this machine's
};

struct Response {
    int status = 200;
    std::string type = "text/html; charset=utf-8";
    std::string body;
    std::vector<std::pair<std::string, std::string>> headers;
    // A stream of events in that language instead of a body.
    std::optional<std::string> events;
    // The answer is made elsewhere, by this, and may take a second: nothing else waits for it.
    std::function<Response()> later;
    // Done elsewhere once the answer is on its way: not even the answer waits for it.
    std::function<void()> after;
};

// For the audit log: "tablet at 192.0.2.7".
std::string device_of(const Request& request);

// "%41+b" to "A b" (`plus`: a plus is a blank); nothing when it is no such text, holds a NUL or is no UTF-8.
std::optional<std::string> decoded(std::string_view text, bool plus);
// Empty: there is no such field.
std::string field_of(const Fields& fields, std::string_view name);
// "a=1&b=2"; nothing when malformed, or more than 64 fields.
std::optional<Fields> fields_of(std::string_view text);
// Splits a request's target ("/run/x?y=1") into path and query. Nothing: not an absolute path, or malformed.
bool take_target(std::string_view target, Request& request);
Fields cookies_of(std::string_view header);

// The names under which this page may be asked for, with the port where it is not the usual one.
struct Names {
    std::vector<std::string> hosts;  // "127.0.0.1:8640", "localhost:8640"
    bool encrypted = false;
};
bool host_known(const Names& names, const Request& request);
// A command must come from a page of this site: by its Origin; a browser that sends none must say
// Sec-Fetch-Site: same-origin.
bool origin_known(const Names& names, const Request& request);
// The language asked for: cookie, then Accept-Language, then "en".
std::string language_of(const Request& request);

// What every answer carries.
std::vector<std::pair<std::string, std::string>> safety_headers();

}  // namespace tipwright::page
