#include "report/certificate/pdf_finish.hpp"

// The smart pointers of the standard library only (see qpdf/PointerHolder.hh).
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Flate.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFWriter.hh>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <mutex>

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

void mend_to_unicode(QPDF& pdf) {
    QPDFObjectHandle table;
    for (QPDFObjectHandle& object : pdf.getAllObjects()) {
        if (!object.isDictionary() || !object.hasKey("/ToUnicode")) continue;
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

}  // namespace

Result<std::string> finish_pdf(std::string_view bytes, const std::vector<Attachment>& attachments,
                               const DocumentInfo& info) {
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.processMemoryFile("certificate", bytes.data(), bytes.size());
        const std::string date = pdf_date(info.date);
        mend_to_unicode(pdf);
        attach(pdf, attachments, date);
        inform(pdf, info, date);
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
