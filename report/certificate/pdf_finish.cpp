#include "report/certificate/pdf_finish.hpp"

// The smart pointers of the standard library only (see qpdf/PointerHolder.hh).
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Flate.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFPageObjectHelper.hh>
#include <qpdf/QPDFWriter.hh>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <mutex>

#include "report/certificate/pdf_structure.hpp"
#include "report/files/xml_text.hpp"
#include "report/seal/pdf_place.hpp"

namespace tipwright::report::certificate {

namespace {

// libharu writes text as UTF-16 code units, so the way back is the identity. Its own table uses an operator
// that does not belong there (ISO 32000-1 clause 9.10.3 allows bfchar and bfrange) and that readers warn of.
std::string identity_to_unicode() {
    std::string out =
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n";
    constexpr int most_in_a_block = 100;
    for (int first = 0; first < 256; first += most_in_a_block) {
        const int last = std::min(256, first + most_in_a_block);
        out += std::to_string(last - first) + " beginbfrange\n";
        for (int high = first; high < last; ++high) {
            char line[40];
            std::snprintf(line, sizeof line, "<%02X00> <%02XFF> <%02X00>\n", high, high, high);
            out += line;
        }
        out += "endbfrange\n";
    }
    return out + "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n";
}

// Level 1 takes a quarter less time for a certificate than the usual 6, which would make it 7 % smaller. The
// library keeps the level for the whole process.
void compress_fast() {
    static std::once_flag once;
    std::call_once(once, [] { Pl_Flate::setCompressionLevel(1); });
}

// D:YYYYMMDDHHmmSSZ of "2026-03-02" or "2026-03-02T08:14:00Z".
std::string pdf_date(const std::string& iso) {
    std::string digits;
    for (char c : iso)
        if (c >= '0' && c <= '9') digits += c;
    if (digits.size() < 8) return "";
    digits.resize(14, '0');
    return "D:" + digits + "Z";
}

// libharu writes the glyphs of 65536 characters: those after the last one that has a glyph are left out.
void shorten(QPDFObjectHandle glyphs) {
    const std::shared_ptr<Buffer> buffer = glyphs.getRawStreamData();
    std::string_view bytes(reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize());
    bytes = bytes.substr(0, (bytes.find_last_not_of('\0') + 2) / 2 * 2);
    glyphs.replaceStreamData(std::string(bytes), QPDFObjectHandle::newNull(), QPDFObjectHandle::newNull());
}

void mend_fonts(QPDF& pdf) {
    QPDFObjectHandle table;
    for (QPDFObjectHandle& object : pdf.getAllObjects()) {
        if (!object.isDictionary()) continue;
        if (object.hasKey("/CIDToGIDMap")) shorten(object.getKey("/CIDToGIDMap"));
        if (!object.hasKey("/ToUnicode")) continue;
        if (!table.isInitialized()) table = QPDFObjectHandle::newStream(&pdf, identity_to_unicode());
        object.replaceKey("/ToUnicode", table);
    }
}

void attach(QPDF& pdf, const std::vector<Attachment>& attachments, const std::string& date) {
    QPDFEmbeddedFileDocumentHelper files(pdf);
    QPDFObjectHandle associated = QPDFObjectHandle::newArray();
    for (const Attachment& attachment : attachments) {
        auto stream = QPDFEFStreamObjectHelper::createEFStream(pdf, attachment.bytes);
        stream.setSubtype(attachment.media_type);
        if (!date.empty()) stream.setCreationDate(date).setModDate(date);
        auto file = QPDFFileSpecObjectHelper::createFileSpec(pdf, attachment.name, stream);
        file.setDescription(attachment.description);
        // ISO 32000-2 clause 14.13: the data the document was made from.
        file.getObjectHandle().replaceKey("/AFRelationship", QPDFObjectHandle::newName("/Source"));
        files.replaceEmbeddedFile(attachment.name, file);
        associated.appendItem(file.getObjectHandle());
    }
    if (!attachments.empty()) pdf.getRoot().replaceKey("/AF", associated);
}

void inform(QPDF& pdf, const DocumentInfo& info, const std::string& date) {
    QPDFObjectHandle trailer = pdf.getTrailer();
    if (!trailer.getKey("/Info").isDictionary())
        trailer.replaceKey("/Info", pdf.makeIndirectObject(QPDFObjectHandle::newDictionary()));
    QPDFObjectHandle dictionary = trailer.getKey("/Info");
    const std::pair<const char*, const std::string*> texts[] = {{"/Title", &info.title},
                                                                {"/Author", &info.author},
                                                                {"/Subject", &info.subject},
                                                                {"/Creator", &info.creator}};
    for (const auto& [key, text] : texts)
        if (!text->empty()) dictionary.replaceKey(key, QPDFObjectHandle::newUnicodeString(*text));
    if (!date.empty()) {
        dictionary.replaceKey("/CreationDate", QPDFObjectHandle::newString(date));
        dictionary.replaceKey("/ModDate", QPDFObjectHandle::newString(date));
    }
    if (!info.language.empty()) pdf.getRoot().replaceKey("/Lang", QPDFObjectHandle::newString(info.language));
    QPDFObjectHandle preferences = QPDFObjectHandle::newDictionary();
    preferences.replaceKey("/DisplayDocTitle", QPDFObjectHandle::newBool(true));
    pdf.getRoot().replaceKey("/ViewerPreferences", preferences);
}

// The same as the document information, as XMP (ISO 16684-1).
void describe(QPDF& pdf, const DocumentInfo& info, const std::string& date) {
    std::string xmp =
        "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n<rdf:RDF "
        "xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
        "<rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" "
        "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\">\n<dc:format>application/pdf</dc:format>\n";
    const auto add = [&](const std::string& text, const std::string& before, const std::string& after) {
        if (!text.empty()) xmp += before + xml_escaped(text) + after + "\n";
    };
    const std::string alternative = "><rdf:Alt><rdf:li xml:lang=\"x-default\">";
    add(info.title, "<dc:title" + alternative, "</rdf:li></rdf:Alt></dc:title>");
    add(info.subject, "<dc:description" + alternative, "</rdf:li></rdf:Alt></dc:description>");
    add(info.author, "<dc:creator><rdf:Seq><rdf:li>", "</rdf:li></rdf:Seq></dc:creator>");
    add(info.language, "<dc:language><rdf:Bag><rdf:li>", "</rdf:li></rdf:Bag></dc:language>");
    add(info.creator, "<xmp:CreatorTool>", "</xmp:CreatorTool>");
    if (!date.empty()) {  // of D:YYYYMMDDHHmmSSZ
        const std::string iso = date.substr(2, 4) + "-" + date.substr(6, 2) + "-" + date.substr(8, 2) + "T" +
                                date.substr(10, 2) + ":" + date.substr(12, 2) + ":" + date.substr(14, 2) +
                                "Z";
        add(iso, "<xmp:CreateDate>", "</xmp:CreateDate>");
        add(iso, "<xmp:ModifyDate>", "</xmp:ModifyDate>");
    }
    xmp += "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"r\"?>\n";
    QPDFObjectHandle stream = QPDFObjectHandle::newStream(&pdf, xmp);
    stream.getDict().replaceKey("/Type", QPDFObjectHandle::newName("/Metadata"));
    stream.getDict().replaceKey("/Subtype", QPDFObjectHandle::newName("/XML"));
    pdf.getRoot().replaceKey("/Metadata", stream);
}

// ISO 32000-1 clauses 12.7.4.5 and 12.8.1; ETSI EN 319 142-1 clause 6.3.
void leave_place(QPDF& pdf, const SignaturePlace& place) {
    const auto name = [](const char* text) { return QPDFObjectHandle::newName(text); };
    QPDFObjectHandle range = QPDFObjectHandle::newArray();
    range.appendItem(QPDFObjectHandle::newInteger(0));
    for (const long long number : seal::byte_range_places)
        range.appendItem(QPDFObjectHandle::newInteger(number));
    QPDFObjectHandle signature = QPDFObjectHandle::newDictionary();
    signature.replaceKey("/Type", name("/Sig"));
    signature.replaceKey("/Filter", name("/Adobe.PPKLite"));
    signature.replaceKey("/SubFilter", name("/ETSI.CAdES.detached"));
    signature.replaceKey("/ByteRange", range);
    signature.replaceKey("/Contents", QPDFObjectHandle::newString(std::string(place.bytes, '\0')));
    signature.replaceKey("/M", QPDFObjectHandle::newString(pdf_date(place.moment)));
    if (!place.name.empty()) signature.replaceKey("/Name", QPDFObjectHandle::newUnicodeString(place.name));

    QPDFObjectHandle page = QPDFPageDocumentHelper(pdf).getAllPages().at(0).getObjectHandle();
    QPDFObjectHandle field = QPDFObjectHandle::newDictionary();
    field.replaceKey("/Type", name("/Annot"));
    field.replaceKey("/Subtype", name("/Widget"));
    field.replaceKey("/FT", name("/Sig"));
    field.replaceKey("/T", QPDFObjectHandle::newString("Signature"));
    field.replaceKey("/F", QPDFObjectHandle::newInteger(132));  // print, locked
    field.replaceKey("/Rect", QPDFObjectHandle::parse("[0 0 0 0]"));
    field.replaceKey("/P", page);
    field.replaceKey("/V", pdf.makeIndirectObject(signature));
    QPDFObjectHandle indirect = pdf.makeIndirectObject(field);
    QPDFObjectHandle fields = QPDFObjectHandle::newArray();
    fields.appendItem(indirect);
    QPDFObjectHandle form = QPDFObjectHandle::newDictionary();
    form.replaceKey("/Fields", fields);
    form.replaceKey("/SigFlags", QPDFObjectHandle::newInteger(3));  // signatures exist, append only
    pdf.getRoot().replaceKey("/AcroForm", form);
    QPDFObjectHandle annotations = page.getKey("/Annots");
    if (!annotations.isArray()) annotations = QPDFObjectHandle::newArray();
    annotations.appendItem(indirect);
    page.replaceKey("/Annots", annotations);
}

}  // namespace

Result<std::string> finish_pdf(std::string_view bytes, const std::vector<Attachment>& attachments,
                               const DocumentInfo& info, const std::vector<StructureNode>& structure) {
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.processMemoryFile("certificate", bytes.data(), bytes.size());
        const std::string date = pdf_date(info.date);
        mend_fonts(pdf);
        attach(pdf, attachments, date);
        inform(pdf, info, date);
        write_out_marks(pdf, structure);
        write_structure(pdf, structure);
        write_bookmarks(pdf, structure);
        describe(pdf, info, date);
        if (info.signature.bytes > 0) leave_place(pdf, info.signature);
        compress_fast();
        QPDFWriter writer(pdf);
        writer.setOutputMemory();
        writer.setDeterministicID(true);
        writer.setMinimumPDFVersion("1.7");
        writer.setObjectStreamMode(qpdf_o_disable);
        writer.setDecodeLevel(qpdf_dl_none);
        writer.write();
        const std::shared_ptr<Buffer> buffer = writer.getBufferSharedPointer();
        return std::string(reinterpret_cast<const char*>(buffer->getBuffer()), buffer->getSize());
    } catch (const std::exception& error) {
        return Fault{FaultCode::damaged, "the PDF could not be finished: " + visible(error.what()),
                     "certificate", ""};
    }
}

}  // namespace tipwright::report::certificate
