#include "bench/page/views/pair_screen.hpp"

#include "bench/page/views/forms.hpp"

namespace tipwright::page {

Html pair_screen(const PageWords& words, const std::string& code, const std::string& wrong) {
    Html out = document_head(words, words.text("pair.title"));
    out.raw("</head>\n<body data-screen=\"pair\">\n<header>\n<p class=\"name\">tipwright</p>\n</header>\n");
    out.raw("<main id=\"main\">\n").add(heading(words, "pair.title"));
    if (!wrong.empty()) out.add(alert(wrong));
    out.raw("<p>").text(words.text("pair.why")).raw("</p>\n");
    out.raw("<form class=\"fields\" method=\"post\" action=\"/pair\">\n<label class=\"field\"><span>");
    out.text(words.text("pair.code")).raw("</span><input type=\"text\" name=\"code\" maxlength=\"20\"");
    out.raw(" autocomplete=\"off\" autocapitalize=\"characters\" spellcheck=\"false\" required");
    if (code.empty()) out.raw(" autofocus");
    out.attribute("value", code).raw("></label>\n");
    out.add(field(words.text("pair.name"), "name", "", "text", true));
    out.add(button(words.text("pair.do"))).raw("</form>\n</main>\n</body>\n</html>\n");
    return out;
}

}  // namespace tipwright::page
