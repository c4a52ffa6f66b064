#include "gui/canvas.h"

#include <algorithm>
#include <cfloat>
#include <cmath>
#include <utility>

namespace landfall {

Canvas::Canvas(bool dark, const Sizes& sizes, const Fonts& loaded)
    : colours(palette(dark)), list(*ImGui::GetBackgroundDrawList()), scale(sizes), fonts(loaded),
      size(ImGui::GetIO().DisplaySize) {}

ImFont* Canvas::font(TextSize type) const {
    return type == TextSize::small ? fonts.small : type == TextSize::medium ? fonts.medium : fonts.big;
}
float Canvas::typeSize(TextSize type) const {
    return type == TextSize::small ? scale.small : type == TextSize::medium ? scale.medium : scale.big;
}
float Canvas::lineHeight(TextSize type) const { return typeSize(type) * 1.25f; }
ImU32 Canvas::packed(Colour c, float alpha) const {
    return IM_COL32(c.r, c.g, c.b, static_cast<int>(std::lround(255.0f * std::clamp(alpha, 0.0f, 1.0f))));
}

float Canvas::textWidth(std::string_view words, TextSize type) const {
    return font(type)->CalcTextSizeA(typeSize(type), FLT_MAX, 0.0f, words.data(), words.data() + words.size()).x;
}

float Canvas::paragraphHeight(std::string_view words, TextSize type, float room) const {
    return font(type)->CalcTextSizeA(typeSize(type), FLT_MAX, room, words.data(), words.data() + words.size()).y;
}

float Canvas::fitting(std::string_view words, TextSize type, float room) const {
    const float across = textWidth(words, type), height = typeSize(type);
    if (across <= room) return 1.0f;
    return std::max(type == TextSize::big ? 0.45f : 0.55f, std::floor(height * room / across) / height);
}

Box Canvas::text(float x, float y, std::string_view words, TextSize type, Ink ink, float room, Side side, float share) {
    std::string shown(words);
    float height = share * typeSize(type);
    const auto measured = [&] {
        return font(type)->CalcTextSizeA(height, FLT_MAX, 0.0f, shown.data(), shown.data() + shown.size()).x;
    };
    float across = measured();
    if (room > 0.0f && across > room) {
        height = std::min(height, fitting(words, type, room) * typeSize(type));
        across = measured();
        while (across > room && shown.size() > 1) {
            std::size_t cut = shown.size() - (shown.ends_with("…") ? 3 : 0) - 1;
            while (cut > 0 && (static_cast<unsigned char>(shown[cut]) & 0xC0) == 0x80) --cut;  // whole UTF-8 characters
            shown = shown.substr(0, cut) + "…";
            across = measured();
        }
    }
    const float left = side == Side::left ? x : side == Side::centre ? x - across / 2.0f : x - across;
    // A shrunken line stays on the base line of its place.
    const float top = std::round(y + 0.8f * (typeSize(type) - height));
    list.AddText(font(type), height, {std::round(left), top},
                 packed(ink == Ink::full ? colours.ink : colours.quiet, 1.0f), shown.data(),
                 shown.data() + shown.size());
    const Box box{left, top, across, height};
    record.texts.push_back({std::move(shown), box, height});
    return box;
}

Box Canvas::paragraph(float x, float y, std::string_view words, TextSize type, Ink ink, float room, int lines) {
    float height = typeSize(type);
    const auto extent = [&] {
        return font(type)->CalcTextSizeA(height, FLT_MAX, room, words.data(), words.data() + words.size());
    };
    ImVec2 measured = extent();
    while (measured.y > height * (static_cast<float>(lines) + 0.1f) && height > 0.6f * typeSize(type)) {
        height = std::floor(height - 1.0f);
        measured = extent();
    }
    list.AddText(font(type), height, {std::round(x), std::round(y)},
                 packed(ink == Ink::full ? colours.ink : colours.quiet, 1.0f), words.data(),
                 words.data() + words.size(), room);
    const Box box{x, y, measured.x, measured.y};
    record.texts.push_back({std::string(words), box, height});
    return box;
}

void Canvas::fill(const Box& b, Colour colour, float alpha, float rounding) {
    list.AddRectFilled({b.x, b.y}, {b.right(), b.bottom()}, packed(colour, alpha), rounding);
}
void Canvas::line(float x1, float y1, float x2, float y2, Colour colour, float thickness, float alpha) {
    list.AddLine({x1, y1}, {x2, y2}, packed(colour, alpha), thickness);
}
void Canvas::polyline(const std::vector<ImVec2>& points, Colour colour, float thickness, float alpha) {
    ++record.lines;
    if (points.size() == 1) list.AddCircleFilled(points.front(), thickness / 2.0f, packed(colour, alpha));
    list.AddPolyline(points.data(), static_cast<int>(points.size()), packed(colour, alpha), 0, thickness);
}

void Canvas::hatch(const Box& b, Colour colour, float alpha) {
    // Lines at 45 degrees, cut at the box by hand: a clip rectangle would split the draw call.
    record.bands.push_back(b);
    const float step = scale.unit * 1.25f;
    for (float offset = step - b.height; offset < b.width; offset += step) {
        const float from = std::max(offset, 0.0f), to = std::min(offset + b.height, b.width);
        if (to > from)
            line(b.x + from, b.bottom() - (from - offset), b.x + to, b.bottom() - (to - offset), colour, 1.0f, alpha);
    }
}

void Canvas::dashes(float x1, float x2, float y, Colour colour) {
    for (float x = x1; x < x2; x += scale.unit * 1.5f)
        line(x, y, std::min(x + scale.unit * 0.75f, x2), y, colour, 1.5f);
}

void Canvas::mark(Shape shape, float x, float y, float radius, float alpha) {
    const float r = radius, h = 0.87f * radius;
    if (shape == Shape::under)
        list.AddTriangleFilled({x - r, y - h}, {x + r, y - h}, {x, y + h}, packed(colours.under, alpha));
    if (shape == Shape::over)
        list.AddTriangleFilled({x - r, y + h}, {x, y - h}, {x + r, y + h}, packed(colours.over, alpha));
    if (shape == Shape::inside) fill({x - 0.7f * r, y - 0.7f * r, 1.4f * r, 1.4f * r}, colours.ink, alpha);
    if (shape == Shape::lost) {
        const float d = 0.65f * r, thick = std::max(2.0f, 0.28f * r);
        line(x - d, y - d, x + d, y + d, colours.quiet, thick, alpha);
        line(x - d, y + d, x + d, y - d, colours.quiet, thick, alpha);
    }
    if (shape == Shape::disc) list.AddCircleFilled({x, y}, r, packed(colours.ink, alpha));
    if (shape == Shape::ring) list.AddCircle({x, y}, r, packed(colours.ink, alpha), 0, std::max(2.0f, 0.25f * r));
    record.marks.push_back({shape, x, y, radius});
}

bool Canvas::clicked(const Box& b) const {
    const ImGuiIO& io = ImGui::GetIO();
    return io.MouseClicked[0] && io.MousePos.x >= b.x && io.MousePos.x < b.right() && io.MousePos.y >= b.y
           && io.MousePos.y < b.bottom();
}

}  // namespace landfall
