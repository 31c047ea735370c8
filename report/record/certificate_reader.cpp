#include "report/record/certificate_reader.hpp"

// The smart pointers of the standard library only (see qpdf/PointerHolder.hh).
#define POINTERHOLDER_TRANSITION 4
#include <qpdf/Pipeline.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <qpdf/QPDFPageObjectHelper.hh>

#include <stdexcept>

#include "calib/base/text.hpp"

namespace tipwright::report {

namespace {

// Collects what a stream unpacks to, up to the cap; beyond it the unpacking is broken off.
class Collect : public Pipeline {
public:
    Collect() : Pipeline("collect", nullptr) {}
    void write(const unsigned char* data, size_t size) override {
        if (size > max_attachment_bytes - bytes_.size()) {
            too_large_ = true;
            throw std::runtime_error("unpacks to too much");
        }
        bytes_.append(reinterpret_cast<const char*>(data), size);
    }
    void finish() override {}
    const std::string& bytes() const { return bytes_; }
    bool too_large() const { return too_large_; }

private:
    bool too_large_ = false;
    std::string bytes_;
};

Result<std::string> unpack(QPDFObjectHandle stream, const std::string& name, const std::string& attachment) {
    Collect collect;
    bool whole = false;
    try {
        whole = stream.isStream() && stream.pipeStreamData(&collect, 0, qpdf_dl_all, true);
    } catch (const std::exception&) {
        whole = false;  // the reason is in `collect`, or the stream is damaged
    }
    if (collect.too_large())
        return Fault{
            FaultCode::file_too_large,
            "an attached file unpacks to more than " + std::to_string(max_attachment_bytes) + " bytes", name,
            "give a certificate written by tipwright"};
    if (!whole)
        return Fault{FaultCode::damaged, in_quotes(attachment) + " cannot be unpacked", name,
                     "give the certificate as it was issued"};
    return collect.bytes();
}

// Strings shown, as libharu writes them: UTF-16, big-endian.
class TextCollector : public QPDFObjectHandle::ParserCallbacks {
public:
    std::vector<std::string> runs;

    void handleObject(QPDFObjectHandle object, size_t, size_t) override {
        if (object.isString()) {
            last_ = object.getStringValue();
        } else if (object.isOperator() && object.getOperatorValue() == "Tj") {
            std::string text;
            for (std::size_t i = 0; i + 1 < last_.size(); i += 2)
                append_utf8(text, static_cast<char32_t>(static_cast<unsigned char>(last_[i]) << 8 |
                                                        static_cast<unsigned char>(last_[i + 1])));
            runs.push_back(text);
        }
    }
    void handleEOF() override {}

private:
    std::string last_;
};

template <class Value, class Use>
Result<Value> with_pdf(std::string_view bytes, const std::string& name, Use use) {
    if (bytes.size() > max_certificate_bytes)
        return Fault{FaultCode::file_too_large,
                     std::to_string(bytes.size()) + " bytes, at most " +
                         std::to_string(max_certificate_bytes) + " are read",
                     name, "give a certificate written by tipwright"};
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.setAttemptRecovery(false);
        pdf.processMemoryFile(name.c_str(), bytes.data(), bytes.size());
        return use(pdf);
    } catch (const std::exception&) {
        return Fault{FaultCode::damaged, "not a PDF that can be read whole", name,
                     "give the certificate as it was issued"};
    }
}

}  // namespace

Result<std::vector<std::string>> attachment_names(std::string_view pdf, const std::string& name) {
    return with_pdf<std::vector<std::string>>(pdf, name,
                                              [](QPDF& document) -> Result<std::vector<std::string>> {
                                                  std::vector<std::string> names;
                                                  QPDFEmbeddedFileDocumentHelper files(document);
                                                  for (const auto& [key, file] : files.getEmbeddedFiles())
                                                      names.push_back(file->getFilename());
                                                  return names;
                                              });
}

Result<std::string> read_attachment(std::string_view pdf, const std::string& name,
                                    const std::string& attachment) {
    return with_pdf<std::string>(pdf, name, [&](QPDF& document) -> Result<std::string> {
        QPDFEmbeddedFileDocumentHelper files(document);
        for (const auto& [key, file] : files.getEmbeddedFiles()) {
            if (file->getFilename() != attachment) continue;
            return unpack(file->getEmbeddedFileStream(), name, attachment);
        }
        return Fault{FaultCode::missing_field, "no file " + in_quotes(attachment) + " is attached", name,
                     "give a certificate written by tipwright"};
    });
}

Result<std::string> read_attached_record(std::string_view pdf, const std::string& name) {
    return read_attachment(pdf, name, std::string(attached_record_name));
}

Result<std::vector<std::vector<std::string>>> printed_text(std::string_view pdf, const std::string& name) {
    using Pages = std::vector<std::vector<std::string>>;
    return with_pdf<Pages>(pdf, name, [](QPDF& document) -> Result<Pages> {
        Pages pages;
        for (auto& page : QPDFPageDocumentHelper(document).getAllPages()) {
            TextCollector collector;
            page.parseContents(&collector);
            pages.push_back(std::move(collector.runs));
        }
        return pages;
    });
}

}  // namespace tipwright::report
