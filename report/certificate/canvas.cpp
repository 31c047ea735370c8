#include "report/certificate/canvas.hpp"

#include <hpdf.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <iomanip>
#include <set>
#include <sstream>

#include "calib/base/text.hpp"
#include "report/certificate/font_file.hpp"
#include "report/certificate/marked_content.hpp"
#include "report/files/memory_file.hpp"

namespace tipwright::report::certificate {

namespace {

float real(double value) {
    return static_cast<float>(value);
}

bool same(const HPDF_RGBColor& now, Colour wanted) {
    return now.r == real(wanted.red) && now.g == real(wanted.green) && now.b == real(wanted.blue);
}

// The unit of the dash lengths differs between versions of libharu.
template <class Length, class Phase>
void set_dash(HPDF_STATUS (*set)(HPDF_Page, const Length*, HPDF_UINT, Phase), HPDF_Page page,
              const std::vector<unsigned>& dash) {
    const HPDF_DashMode now = HPDF_Page_GetDash(page);
    if (std::equal(dash.begin(), dash.end(), now.ptn, now.ptn + now.num_ptn,
                   [](unsigned one, Length other) { return static_cast<Length>(one) == other; }))
        return;
    std::vector<Length> lengths(dash.begin(), dash.end());
    set(page, lengths.empty() ? nullptr : lengths.data(), static_cast<HPDF_UINT>(lengths.size()), 0);
}

struct LoadedFont {
    HPDF_Font handle = nullptr;
    FontCharacters characters;
    std::vector<std::int16_t> widths;  // of the characters met so far, 1/1000 em; -1: not asked yet
};

std::string code_point_name(char32_t point) {
    std::ostringstream out;
    out << "U+" << std::uppercase << std::hex << std::setw(4) << std::setfill('0')
        << static_cast<std::uint32_t>(point);
    return out.str();
}

// A no-break blank has done its work when lines are cut; who searches the text looks for a plain one. Control
// characters have no place on paper.
std::string printable(std::string_view text) {
    std::string out;
    for (std::size_t at = 0; at < text.size();) {
        const char32_t point = next_code_point(text, at);
        append_utf8(out, point == 0xA0 || point < 0x20 || point == 0x7F ? U' ' : point);
    }
    return out;
}

}  // namespace

struct Canvas::Pdf {
    HPDF_Doc document = nullptr;
    HPDF_STATUS status = HPDF_OK;
    LoadedFont fonts[2];
    std::string font_name;
    std::vector<HPDF_Page> pages;
    HPDF_Page page = nullptr;
    std::set<char32_t> missing;
    std::set<char32_t> unshaped;
    std::vector<StructureNode> nodes;
    std::vector<int> open;  // parts around what is drawn, the innermost last
    bool decoration = false;
    bool measuring = false;
    static constexpr int nothing = -2;  // marked just now
    static constexpr int left_out = -1;
    struct Marking {
        int now = nothing;  // or a node
        int count = 0;
    };
    std::vector<Marking> markings;  // of the pages
    std::size_t page_index = 0;

    void code(int number) const { HPDF_Page_SetMiterLimit(page, static_cast<HPDF_REAL>(number)); }
    void end_mark() {
        if (pages.empty() || markings[page_index].now == nothing) return;
        code(end_of_mark);
        markings[page_index].now = nothing;
    }
    // Before text or lines are drawn; `top` of text from the page's foot.
    void mark(bool is_text, double top = 0) {
        int node = left_out;
        if (!decoration && !open.empty()) {
            const bool figure = std::any_of(open.begin(), open.end(), [&](int one) {
                return nodes[static_cast<std::size_t>(one)].tag == Tag::figure;
            });
            if (is_text || figure) node = open.back();
        }
        Marking& marking = markings[page_index];
        if (marking.now == node || marking.count >= most_marks_a_page) return;
        end_mark();
        if (node == left_out) {
            code(decoration_begins);
        } else {
            const int on_page = static_cast<int>(page_index);
            nodes[static_cast<std::size_t>(node)].marks.push_back({on_page, marking.count});
            code(first_mark + marking.count++);
            for (int up = node; up >= 0; up = nodes[static_cast<std::size_t>(up)].parent) {
                StructureNode& around = nodes[static_cast<std::size_t>(up)];
                if (around.page >= 0) break;
                around.page = on_page;
                around.top = top;
            }
        }
        marking.now = node;
    }

    ~Pdf() {
        if (document) HPDF_Free(document);
    }

    static void on_error(HPDF_STATUS status, HPDF_STATUS, void* self) {
        auto& kept = static_cast<Pdf*>(self)->status;
        if (kept == HPDF_OK) kept = status;
    }

    LoadedFont& font(Face face) { return fonts[face == Face::bold ? 1 : 0]; }

    double width_of(LoadedFont& font, char32_t point) {
        if (point < 0x20 || point == 0x7F) point = ' ';
        if (point < font.widths.size() && font.widths[point] >= 0) return font.widths[point] / 1000.0;
        if (point > 0xFFFF || !font.characters.has(point)) {
            missing.insert(point);
            return 0.6;
        }
        if (needs_shaping(point)) unshaped.insert(point);
        if (font.widths.size() <= point) font.widths.resize(point + 1, -1);
        font.widths[point] = static_cast<std::int16_t>(
            HPDF_Font_GetUnicodeWidth(font.handle, static_cast<HPDF_UNICODE>(point)));
        return font.widths[point] / 1000.0;
    }

    double width_of(std::string_view text, const Style& style) {
        double sum = 0;
        for (std::size_t at = 0; at < text.size();)
            sum += width_of(font(style.face), next_code_point(text, at));
        return sum * style.size;
    }

    // What a page has already is not said again: that was an eighth of its bytes.
    void use(const Stroke& stroke, double scale) const {
        if (const float width = real(stroke.width * scale); HPDF_Page_GetLineWidth(page) != width)
            HPDF_Page_SetLineWidth(page, width);
        if (!same(HPDF_Page_GetRGBStroke(page), stroke.colour))
            HPDF_Page_SetRGBStroke(page, real(stroke.colour.red), real(stroke.colour.green),
                                   real(stroke.colour.blue));
        set_dash(&HPDF_Page_SetDash, page, stroke.dash);
    }
    void use(const Style& style, double scale) {
        use(style.colour);
        const HPDF_Font handle = font(style.face).handle;
        const float size = real(style.size * scale);
        if (HPDF_Page_GetCurrentFont(page) != handle || HPDF_Page_GetCurrentFontSize(page) != size)
            HPDF_Page_SetFontAndSize(page, handle, size);
    }
    void use(Colour colour) const {
        if (same(HPDF_Page_GetRGBFill(page), colour)) return;
        HPDF_Page_SetRGBFill(page, real(colour.red), real(colour.green), real(colour.blue));
    }
    void path(const std::vector<Point>& points, double height, double scale) const {
        for (std::size_t i = 0; i < points.size(); ++i) {
            const float x = real(points[i].x * scale);
            const float y = real(height - points[i].y * scale);
            if (i == 0)
                HPDF_Page_MoveTo(page, x, y);
            else
                HPDF_Page_LineTo(page, x, y);
        }
    }

    void box(double x, double y, double width, double box_height, double height, double scale) const {
        HPDF_Page_Rectangle(page, real(x * scale), real(height - (y + box_height) * scale),
                            real(width * scale), real(box_height * scale));
    }

    std::optional<Fault> load(Face face, const std::filesystem::path& file,
                              const std::set<char32_t>& letters) {
        LoadedFont& loaded = font(face);
        auto bytes = read_font(file);
        if (!bytes) return bytes.fault();
        std::string fewer = letters.empty() ? std::string() : font_of_letters(*bytes, letters);
        const MemoryFile smaller(fewer);
        if (smaller.ok()) *bytes = std::move(fewer);
        auto characters = FontCharacters::from_bytes(*bytes, file.string());
        if (!characters) return characters.fault();
        loaded.characters = std::move(*characters);
        const std::string from = smaller.ok() ? smaller.path() : file.string();
        const char* name = HPDF_LoadTTFontFromFile(document, from.c_str(), HPDF_TRUE);
        if (name) loaded.handle = HPDF_GetFont(document, name, "UTF-8");
        if (!loaded.handle)
            return Fault{FaultCode::damaged,
                         "the font cannot be used (libharu status " + std::to_string(status) + ")",
                         file.string(), "give a TrueType font that may be embedded"};
        return std::nullopt;
    }
};

Canvas::Canvas(double width, double height) : pdf_(std::make_unique<Pdf>()), width_(width), height_(height) {}
Canvas::~Canvas() = default;

Result<std::unique_ptr<Canvas>> Canvas::open(const Fonts& fonts, double width, double height,
                                             const std::set<char32_t>& letters) {
    std::unique_ptr<Canvas> canvas(new Canvas(width, height));
    Pdf& pdf = *canvas->pdf_;
    pdf.document = HPDF_New(&Pdf::on_error, &pdf);
    if (!pdf.document)
        return Fault{FaultCode::file_unwritable, "no memory for a PDF document", "certificate", ""};
    HPDF_UseUTFEncodings(pdf.document);
    HPDF_SetCompressionMode(pdf.document, HPDF_COMP_NONE);  // finish_pdf() compresses, and faster
    if (auto fault = pdf.load(Face::regular, fonts.regular, letters)) return *fault;
    if (auto fault = pdf.load(Face::bold, fonts.bold, letters)) return *fault;
    pdf.font_name = fonts.regular.filename().string();
    return canvas;
}

int Canvas::page_count() const {
    return static_cast<int>(pdf_->pages.size());
}

void Canvas::measure_only(bool on) {
    pdf_->measuring = on;
}

void Canvas::add_page() {
    scale_ = 1;
    if (pdf_->measuring) return;
    pdf_->page = HPDF_AddPage(pdf_->document);
    HPDF_Page_SetWidth(pdf_->page, real(width_));
    HPDF_Page_SetHeight(pdf_->page, real(height_));
    pdf_->pages.push_back(pdf_->page);
    pdf_->markings.emplace_back();
    pdf_->page_index = pdf_->pages.size() - 1;
}

void Canvas::open_part(Tag tag, std::string words) {
    if (pdf_->decoration || pdf_->measuring) {
        pdf_->open.push_back(Pdf::left_out);
        return;
    }
    StructureNode node;
    node.tag = tag;
    node.parent = pdf_->open.empty() ? -1 : pdf_->open.back();
    node.words = std::move(words);
    pdf_->open.push_back(static_cast<int>(pdf_->nodes.size()));
    pdf_->nodes.push_back(std::move(node));
}

void Canvas::close_part() {
    pdf_->open.pop_back();
}

bool Canvas::in_part() const {
    return !pdf_->open.empty();
}

void Canvas::decoration(bool on) {
    pdf_->decoration = on;
}

const std::vector<StructureNode>& Canvas::structure() const {
    return pdf_->nodes;
}

void Canvas::select_page(int page) {
    scale_ = 1;
    pdf_->page_index = static_cast<std::size_t>(page);
    pdf_->page = pdf_->pages.at(pdf_->page_index);
}

double Canvas::text_width(std::string_view text, const Style& style) {
    return pdf_->width_of(text, style);
}

void Canvas::text(double x, double baseline, std::string_view text, const Style& style) {
    if (text.empty()) return;
    const std::string valid = printable(text);
    pdf_->width_of(valid, style);  // meets every character, so that a missing one is told
    if (pdf_->measuring) return;
    const float across = real(x * scale_);
    const float up = real(height_ - baseline * scale_);
    pdf_->mark(true, height_ - (baseline - style.size) * scale_);
    HPDF_Page_BeginText(pdf_->page);
    pdf_->use(style, scale_);
    if (style.slanted) {
        // The upright letters leant over: the font need not have a face for it.
        constexpr double lean = 0.2126;  // tangent of 12 degrees, as common italics have it
        HPDF_Page_SetTextMatrix(pdf_->page, 1, 0, real(lean), 1, across, up);
        HPDF_Page_ShowText(pdf_->page, valid.c_str());
    } else {
        HPDF_Page_TextOut(pdf_->page, across, up, valid.c_str());
    }
    HPDF_Page_EndText(pdf_->page);
}

void Canvas::text_upwards(double x, double y, std::string_view text, const Style& style) {
    const std::string valid = printable(text);
    const double length = pdf_->width_of(valid, style);
    // The baseline lies a third of the size right of the middle of the letters.
    if (pdf_->measuring) return;
    const double baseline_x = x + 0.35 * style.size;
    pdf_->mark(true, height_ - y * scale_);
    HPDF_Page_BeginText(pdf_->page);
    pdf_->use(style, scale_);
    HPDF_Page_SetTextMatrix(pdf_->page, 0, 1, -1, 0, real(baseline_x * scale_),
                            real(height_ - (y + length / 2) * scale_));
    HPDF_Page_ShowText(pdf_->page, valid.c_str());
    HPDF_Page_EndText(pdf_->page);
}

void Canvas::polyline(const std::vector<Point>& points, const Stroke& stroke) {
    if (pdf_->measuring || points.size() < 2) return;
    pdf_->mark(false);
    pdf_->use(stroke, scale_);
    pdf_->path(points, height_, scale_);
    HPDF_Page_Stroke(pdf_->page);
}

void Canvas::fill(const std::vector<Point>& outline, Colour colour) {
    if (pdf_->measuring || outline.size() < 3) return;
    pdf_->mark(false);
    pdf_->use(colour);
    pdf_->path(outline, height_, scale_);
    HPDF_Page_Fill(pdf_->page);
}

void Canvas::rectangle(double x, double y, double width, double height, const Stroke& stroke) {
    if (pdf_->measuring) return;
    pdf_->mark(false);
    pdf_->use(stroke, scale_);
    pdf_->box(x, y, width, height, height_, scale_);
    HPDF_Page_Stroke(pdf_->page);
}

void Canvas::circle(Point centre, double radius, const Stroke& stroke, bool filled) {
    if (pdf_->measuring) return;
    pdf_->mark(false);
    pdf_->use(stroke, scale_);
    pdf_->use(filled ? stroke.colour : grey(1));
    HPDF_Page_Circle(pdf_->page, real(centre.x * scale_), real(height_ - centre.y * scale_),
                     real(radius * scale_));
    HPDF_Page_FillStroke(pdf_->page);
}

void Canvas::outline(const std::vector<Point>& points, const Stroke& stroke, bool filled) {
    if (pdf_->measuring) return;
    pdf_->mark(false);
    pdf_->use(stroke, scale_);
    pdf_->use(filled ? stroke.colour : grey(1));
    pdf_->path(points, height_, scale_);
    HPDF_Page_ClosePathFillStroke(pdf_->page);
}

void Canvas::begin_clip(double x, double y, double width, double height) {
    if (pdf_->measuring) return;
    pdf_->end_mark();  // marks nest with the clip
    HPDF_Page_GSave(pdf_->page);
    pdf_->box(x, y, width, height, height_, scale_);
    HPDF_Page_Clip(pdf_->page);
    HPDF_Page_EndPath(pdf_->page);
}

void Canvas::end_clip() {
    if (pdf_->measuring) return;
    pdf_->end_mark();
    HPDF_Page_GRestore(pdf_->page);
}

Outcome Canvas::picture(std::string_view bytes, const std::string& name, double x, double y, double width,
                        double height) {
    if (pdf_->measuring) return Done{};
    const auto* data = reinterpret_cast<const HPDF_BYTE*>(bytes.data());
    const auto size = static_cast<HPDF_UINT>(bytes.size());
    const bool png = bytes.substr(0, 4) == "\x89PNG";
    const bool jpeg = bytes.substr(0, 2) == "\xFF\xD8";
    HPDF_Image image = png    ? HPDF_LoadPngImageFromMem(pdf_->document, data, size)
                       : jpeg ? HPDF_LoadJpegImageFromMem(pdf_->document, data, size)
                              : nullptr;
    if (!image || HPDF_Image_GetWidth(image) == 0 || HPDF_Image_GetHeight(image) == 0)
        return Fault{FaultCode::damaged, "not a picture that can be used", name, "give a PNG or a JPEG file"};
    const double shape = static_cast<double>(HPDF_Image_GetWidth(image)) / HPDF_Image_GetHeight(image);
    const double w = std::min(width, height * shape);
    const double h = w / shape;
    pdf_->mark(false);
    HPDF_Page_DrawImage(pdf_->page, image, real((x + width - w) * scale_), real(height_ - (y + h) * scale_),
                        real(w * scale_), real(h * scale_));
    return Done{};
}

Result<std::string> Canvas::finish() {
    const auto refuse = [](const std::set<char32_t>& points, const std::string& what,
                           const std::string& remedy) {
        std::string list;
        int count = 0;
        for (char32_t point : points) {
            if (++count > 8) {
                list += ", ...";
                break;
            }
            list += (count > 1 ? ", " : "") + code_point_name(point);
        }
        return Fault{FaultCode::bad_value, what + ": " + list, "certificate", remedy};
    };
    if (!pdf_->missing.empty())
        return refuse(pdf_->missing, "the font " + pdf_->font_name + " has no letter for",
                      "name a TrueType font that has it");
    if (!pdf_->unshaped.empty())
        return refuse(pdf_->unshaped, "letters of a script that this program cannot set",
                      "write the name in Latin, Greek or Cyrillic letters");

    for (std::size_t i = 0; i < pdf_->pages.size(); ++i) {
        select_page(static_cast<int>(i));
        pdf_->end_mark();
    }
    HPDF_SaveToStream(pdf_->document);
    HPDF_UINT32 size = HPDF_GetStreamSize(pdf_->document);
    std::string bytes(size, '\0');
    HPDF_ReadFromStream(pdf_->document, reinterpret_cast<HPDF_BYTE*>(bytes.data()), &size);
    if (pdf_->status != HPDF_OK || size != bytes.size() || bytes.empty())
        return Fault{FaultCode::file_unwritable,
                     "the PDF could not be made (libharu status " + std::to_string(pdf_->status) + ")",
                     "certificate", ""};
    return bytes;
}

}  // namespace tipwright::report::certificate
