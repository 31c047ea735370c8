#include "report/certificate/pdf_structure.hpp"

// The smart pointers of the standard library only (see qpdf/PointerHolder.hh).
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFPageObjectHelper.hh>

#include <algorithm>
#include <map>

#include "report/certificate/marked_content.hpp"

namespace tipwright::report::certificate {

namespace {

// ISO 32000-1 clauses 14.8.4.2 to 14.8.4.5.
const char* type_of(Tag tag) {
    switch (tag) {
        case Tag::title:
            return "/H1";
        case Tag::heading:
            return "/H2";
        case Tag::paragraph:
            return "/P";
        case Tag::list:
            return "/L";
        case Tag::item:
            return "/LI";
        case Tag::label:
            return "/Lbl";
        case Tag::item_body:
            return "/LBody";
        case Tag::table:
            return "/Table";
        case Tag::caption:
            return "/Caption";
        case Tag::row:
            return "/TR";
        case Tag::heading_cell:
            return "/TH";
        case Tag::cell:
            return "/TD";
        case Tag::figure:
            return "/Figure";
    }
    return "/P";
}

QPDFObjectHandle name(const char* text) {
    return QPDFObjectHandle::newName(text);
}

QPDFObjectHandle number(long long value) {
    return QPDFObjectHandle::newInteger(value);
}

// "20 M" alone on its line, as libharu writes it.
bool code_at(const std::string& page, std::size_t from, std::size_t to, int& code) {
    if (to - from < 3 || to - from > 8 || page[to - 1] != 'M' || page[to - 2] != ' ') return false;
    code = 0;
    for (std::size_t i = from; i < to - 2; ++i) {
        if (page[i] < '0' || page[i] > '9') return false;
        code = 10 * code + (page[i] - '0');
    }
    return true;
}

std::string written_out(const std::string& page, const std::vector<const char*>& types) {
    std::string out;
    out.reserve(page.size() + 40 * types.size());
    for (std::size_t from = 0; from < page.size();) {
        const std::size_t end = std::min(page.find('\n', from), page.size());
        int code = 0;
        if (!code_at(page, from, end, code))
            out.append(page, from, end + 1 - from);
        else if (code == end_of_mark)
            out += "EMC\n";
        else if (code == decoration_begins)
            out += "/Artifact BMC\n";
        else if (const auto id = static_cast<std::size_t>(code - first_mark); id < types.size())
            out += std::string(types[id]) + " <</MCID " + std::to_string(id) + ">> BDC\n";
        from = end + 1;
    }
    return out;
}

}  // namespace

void write_out_marks(QPDF& pdf, const std::vector<StructureNode>& structure) {
    std::vector<QPDFPageObjectHelper> pages = QPDFPageDocumentHelper(pdf).getAllPages();
    std::vector<std::vector<const char*>> types(pages.size());
    for (const StructureNode& node : structure)
        for (const StructureNode::Mark& mark : node.marks) {
            auto& of_page = types.at(static_cast<std::size_t>(mark.page));
            of_page.resize(std::max(of_page.size(), static_cast<std::size_t>(mark.id) + 1), "/P");
            of_page[static_cast<std::size_t>(mark.id)] = type_of(node.tag);
        }
    for (std::size_t i = 0; i < pages.size(); ++i) {
        QPDFObjectHandle contents = pages[i].getObjectHandle().getKey("/Contents");
        if (contents.isArray() && contents.getArrayNItems() == 1) contents = contents.getArrayItem(0);
        if (!contents.isStream()) continue;
        const std::shared_ptr<Buffer> data = contents.getStreamData();
        const std::string page(reinterpret_cast<const char*>(data->getBuffer()), data->getSize());
        contents.replaceStreamData(written_out(page, types[i]), QPDFObjectHandle::newNull(),
                                   QPDFObjectHandle::newNull());
    }
}

void write_structure(QPDF& pdf, const std::vector<StructureNode>& structure) {
    if (structure.empty()) return;
    std::vector<QPDFPageObjectHelper> pages = QPDFPageDocumentHelper(pdf).getAllPages();
    QPDFObjectHandle root = pdf.makeIndirectObject(QPDFObjectHandle::newDictionary());
    QPDFObjectHandle document = pdf.makeIndirectObject(QPDFObjectHandle::newDictionary());
    document.replaceKey("/S", name("/Document"));
    document.replaceKey("/P", root);
    std::vector<QPDFObjectHandle> elements;
    std::vector<std::vector<QPDFObjectHandle>> kids(structure.size() + 1);  // the document's own at the end
    std::vector<std::vector<QPDFObjectHandle>> of_pages(pages.size());      // by the marks' numbers
    const std::size_t top = structure.size();
    for (std::size_t i = 0; i < structure.size(); ++i) {
        const StructureNode& node = structure[i];
        const std::size_t around = node.parent < 0 ? top : static_cast<std::size_t>(node.parent);
        QPDFObjectHandle element = pdf.makeIndirectObject(QPDFObjectHandle::newDictionary());
        element.replaceKey("/S", name(type_of(node.tag)));
        element.replaceKey("/P", around == top ? document : elements[around]);
        if (node.page >= 0)
            element.replaceKey("/Pg", pages[static_cast<std::size_t>(node.page)].getObjectHandle());
        if (node.tag == Tag::figure)
            element.replaceKey("/Alt", QPDFObjectHandle::newUnicodeString(node.words));
        if (node.tag == Tag::heading_cell)
            element.replaceKey("/A", QPDFObjectHandle::parse("<< /O /Table /Scope /Column >>"));
        for (const StructureNode::Mark& mark : node.marks) {
            auto& of_page = of_pages.at(static_cast<std::size_t>(mark.page));
            of_page.resize(std::max(of_page.size(), static_cast<std::size_t>(mark.id) + 1),
                           QPDFObjectHandle::newNull());
            of_page[static_cast<std::size_t>(mark.id)] = element;
            if (mark.page == node.page) {
                kids[i].push_back(number(mark.id));
                continue;
            }
            QPDFObjectHandle reference = QPDFObjectHandle::newDictionary();
            reference.replaceKey("/Type", name("/MCR"));
            reference.replaceKey("/Pg", pages[static_cast<std::size_t>(mark.page)].getObjectHandle());
            reference.replaceKey("/MCID", number(mark.id));
            kids[i].push_back(reference);
        }
        elements.push_back(element);
        kids[around].push_back(element);
    }
    for (std::size_t i = 0; i < elements.size(); ++i)
        if (!kids[i].empty()) elements[i].replaceKey("/K", QPDFObjectHandle::newArray(kids[i]));
    document.replaceKey("/K", QPDFObjectHandle::newArray(kids[top]));

    QPDFObjectHandle numbers = QPDFObjectHandle::newArray();
    for (std::size_t i = 0; i < pages.size(); ++i) {
        pages[i].getObjectHandle().replaceKey("/StructParents", number(static_cast<long long>(i)));
        pages[i].getObjectHandle().replaceKey("/Tabs", name("/S"));
        numbers.appendItem(number(static_cast<long long>(i)));
        numbers.appendItem(pdf.makeIndirectObject(QPDFObjectHandle::newArray(of_pages[i])));
    }
    QPDFObjectHandle tree = QPDFObjectHandle::newDictionary();
    tree.replaceKey("/Nums", numbers);
    root.replaceKey("/Type", name("/StructTreeRoot"));
    root.replaceKey("/K", document);
    root.replaceKey("/ParentTree", pdf.makeIndirectObject(tree));
    root.replaceKey("/ParentTreeNextKey", number(static_cast<long long>(pages.size())));
    pdf.getRoot().replaceKey("/StructTreeRoot", root);
    pdf.getRoot().replaceKey("/MarkInfo", QPDFObjectHandle::parse("<< /Marked true >>"));
}

void write_bookmarks(QPDF& pdf, const std::vector<StructureNode>& structure) {
    std::vector<QPDFPageObjectHelper> pages = QPDFPageDocumentHelper(pdf).getAllPages();
    QPDFObjectHandle outlines = pdf.makeIndirectObject(QPDFObjectHandle::newDictionary());
    std::vector<QPDFObjectHandle> items;
    for (const StructureNode& node : structure) {
        if ((node.tag != Tag::title && node.tag != Tag::heading) || node.page < 0) continue;
        QPDFObjectHandle place = QPDFObjectHandle::newArray();
        place.appendItem(pages[static_cast<std::size_t>(node.page)].getObjectHandle());
        place.appendItem(name("/XYZ"));
        place.appendItem(QPDFObjectHandle::newNull());
        place.appendItem(number(static_cast<long long>(node.top) + 4));
        place.appendItem(QPDFObjectHandle::newNull());
        QPDFObjectHandle item = pdf.makeIndirectObject(QPDFObjectHandle::newDictionary());
        item.replaceKey("/Title", QPDFObjectHandle::newUnicodeString(node.words));
        item.replaceKey("/Parent", outlines);
        item.replaceKey("/Dest", place);
        items.push_back(item);
    }
    if (items.empty()) return;
    for (std::size_t i = 0; i + 1 < items.size(); ++i) {
        items[i].replaceKey("/Next", items[i + 1]);
        items[i + 1].replaceKey("/Prev", items[i]);
    }
    outlines.replaceKey("/Type", name("/Outlines"));
    outlines.replaceKey("/First", items.front());
    outlines.replaceKey("/Last", items.back());
    outlines.replaceKey("/Count", number(static_cast<long long>(items.size())));
    pdf.getRoot().replaceKey("/Outlines", outlines);
}

}  // namespace tipwright::report::certificate
