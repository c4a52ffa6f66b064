// Draws one frame and remembers what it drew, so that tests can read the screen. Pixels, y down. Window thread.
#pragma once

#include <imgui.h>

#include <string>
#include <string_view>
#include <vector>

#include "gui/look.h"

namespace landfall {

struct Box {
    float x = 0.0f, y = 0.0f, width = 0.0f, height = 0.0f;
    float right() const { return x + width; }
    float bottom() const { return y + height; }
    bool operator==(const Box&) const = default;
};

enum class TextSize { small, medium, big };
enum class Ink { full, quiet };
enum class Side { left, centre, right };

// Under points down, over points up, inside is a square, lost a cross: to be told apart without colour.
// On the neck a disc is where to play and a ring the fret to slide to.
enum class Shape { under, over, inside, lost, disc, ring };

struct DrawnText {
    std::string text;  // as it is shown: cut, it ends in "…"
    Box box;
    float size = 0.0f;  // height of the type
};
struct DrawnMark {
    Shape shape;
    float x, y, radius;
};
struct Drawn {
    std::vector<DrawnText> texts;
    std::vector<DrawnMark> marks;
    std::vector<Box> panels;
    std::vector<Box> bands;  // hatched
    int lines = 0;           // traces and their parts
};

class Canvas {
public:
    // Draws on the current frame's background list, over a display cleared with the palette's paper.
    Canvas(bool dark, const Sizes& sizes, const Fonts& fonts);

    float width() const { return size.x; }
    float height() const { return size.y; }
    float plainWidth() const { return size.x / scale.factor; }  // without the display's factor
    float unit(double count = 1.0) const { return scale.unit * static_cast<float>(count); }
    float lineHeight(TextSize text) const;

    // One line, never wider than `room` where it is given: the type shrinks (to 55 %, a big line to 45 %, which still
    // is above medium), then the text ends in "…". Returns its box. `share` of its type's height to begin with: what
    // fitting() says of the widest of a column, so that all of it stands in one size.
    Box text(float x, float y, std::string_view words, TextSize type, Ink ink = Ink::full, float room = 0.0f,
             Side side = Side::left, float share = 1.0f);
    float fitting(std::string_view words, TextSize type, float room) const;
    // Several lines, broken at spaces; what does not fit into `lines` lines shrinks. Returns its box.
    Box paragraph(float x, float y, std::string_view words, TextSize type, Ink ink, float room, int lines);
    float textWidth(std::string_view words, TextSize type) const;
    float paragraphHeight(std::string_view words, TextSize type, float room) const;  // at its full size

    // Ground in the palette's panel colour, under everything else whenever it is asked for. As cheap as it is large:
    // only cleared, not drawn.
    void panel(const Box& box) { record.panels.push_back(box); }
    void fill(const Box& box, Colour colour, float alpha = 1.0f, float rounding = 0.0f);
    void line(float x1, float y1, float x2, float y2, Colour colour, float thickness = 1.0f, float alpha = 1.0f);
    void polyline(const std::vector<ImVec2>& points, Colour colour, float thickness, float alpha);
    void hatch(const Box& box, Colour colour, float alpha);  // diagonal lines
    void dashes(float x1, float x2, float y, Colour colour);
    void mark(Shape shape, float x, float y, float radius, float alpha = 1.0f);

    bool clicked(const Box& box) const;  // by the mouse in this frame

    const Palette& colours;
    const Drawn& drawn() const { return record; }

private:
    ImFont* font(TextSize type) const;
    float typeSize(TextSize type) const;
    ImU32 packed(Colour colour, float alpha) const;

    ImDrawList& list;
    Sizes scale;
    Fonts fonts;
    ImVec2 size;
    Drawn record;
};

}  // namespace landfall
