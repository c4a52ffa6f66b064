#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "gui/views.h"

namespace landfall {

namespace {

// Where strings and frets lie. Frets stand as on a real neck: fret n at scale·(1 - 2^(-n/12)) from the nut.
struct Board {
    const Neck& neck;
    Box box;
    float outward;  // from the nut to where an open string is marked
    int strings = std::max(neck.strings, 1), frets = std::max(neck.highestFret, 12);
    int first = 0;  // the wire at the edge: 0 is the nut

    float wire(int fret) const {
        const double edge = std::exp2(-first / 12.0);
        const double share = (edge - std::exp2(-fret / 12.0)) / (edge - std::exp2(-frets / 12.0));
        const float along = box.width * static_cast<float>(share);
        return neck.leftHanded ? box.right() - along : box.x + along;
    }
    float finger(int fret) const {  // before the nut for an open string
        return fret <= neck.capo ? wire(neck.capo) + outward : (wire(fret - 1) + wire(fret)) / 2.0f;
    }
    float course(int string) const {
        return strings == 1 ? box.y + box.height / 2.0f
                            : box.y + box.height * static_cast<float>(string - 1) / static_cast<float>(strings - 1);
    }
};

template <typename Which>
bool isAsked(const Neck& neck, const Which& which) {
    return (neck.place && which(NeckFinger{*neck.place, neck.targetFret}))
           || std::any_of(neck.others.begin(), neck.others.end(), which);
}

void drawFrets(Canvas& canvas, const Board& board) {
    const float over = canvas.unit(0.5);
    for (int fret = board.first; fret <= board.frets; ++fret)
        canvas.line(board.wire(fret), board.box.y - over, board.wire(fret), board.box.bottom() + over,
                    canvas.colours.rule, fret == 0 ? canvas.unit(0.75) : canvas.unit(0.2));
    if (board.neck.capo > 0 && board.neck.capo >= board.first)
        canvas.fill({board.wire(board.neck.capo) - canvas.unit(0.5), board.box.y - canvas.unit(1), canvas.unit(1),
                     board.box.height + canvas.unit(2)},
                    canvas.colours.quiet, 1.0f, canvas.unit(0.5));
}

void drawCourses(Canvas& canvas, const Board& board, float gutter) {
    const Neck& neck = board.neck;
    const float small = canvas.lineHeight(TextSize::small);
    // On a small neck the names would run into each other: then only what is asked is named, in one line.
    const bool roomy = board.box.height / static_cast<float>(board.strings) > 0.8f * small;
    std::vector<int> named;
    for (int string = 1; string <= board.strings; ++string) {
        const float y = board.course(string);
        const bool asked = isAsked(neck, [string](const NeckFinger& finger) { return finger.place.string == string; });
        canvas.line(board.box.x, y, board.box.right(), y, asked ? canvas.colours.ink : canvas.colours.quiet,
                    asked ? canvas.unit(0.4) : 1.0f + 0.2f * static_cast<float>(string), asked ? 1.0f : 0.5f);
        if (static_cast<std::size_t>(string) <= neck.stringNames.size() && (asked || (roomy && !neck.place)))
            named.push_back(string);
    }
    const auto name = [&](float y, const std::string& text) {
        canvas.text(neck.leftHanded ? board.box.right() + canvas.unit(3.5) : board.box.x - canvas.unit(3.5),
                    y - 0.45f * small, text, TextSize::small, Ink::full, gutter - canvas.unit(3.5),
                    neck.leftHanded ? Side::left : Side::right);
    };
    const auto nameOf = [&](int string) { return neck.stringNames[static_cast<std::size_t>(string - 1)]; };
    if (roomy || named.size() < 2) {
        for (const int string : named) name(board.course(string), nameOf(string));
        return;
    }
    std::string together;
    // More than three do not fit before the nut: a row of them is named by its ends.
    if (named.size() > 3 && named.back() - named.front() + 1 == static_cast<int>(named.size()))
        together = nameOf(named.back()) + " – " + nameOf(named.front());
    else
        for (const int string : named) together.insert(0, nameOf(string) + (together.empty() ? "" : " "));
    name(0.5f * (board.course(named.front()) + board.course(named.back())), together);
}

void drawNumbers(Canvas& canvas, const Board& board) {
    constexpr std::array numbered{3, 5, 7, 9, 12, 15, 17, 19, 21, 24};
    const Neck& neck = board.neck;
    const float below = board.box.bottom() + canvas.unit(1);
    const auto within = [&neck](int fret, int frets) {
        return isAsked(neck, [fret, frets](const NeckFinger& finger) {
            return std::abs(fret - finger.place.fret) <= frets
                   || (finger.targetFret && std::abs(fret - *finger.targetFret) <= frets);
        });
    };
    for (int fret = 1; fret + neck.capo <= board.frets; ++fret) {
        const bool asked = within(fret, 0), beside = within(fret, 1);
        if (!asked && (beside || std::find(numbered.begin(), numbered.end(), fret) == numbered.end())) continue;
        canvas.text(board.finger(fret + neck.capo), below, std::to_string(fret), TextSize::small,
                    asked ? Ink::full : Ink::quiet, 0.0f, Side::centre);
    }
}

void drawFinger(Canvas& canvas, const Board& board, const NeckFinger& finger) {
    if (finger.place.string < 1 || finger.place.string > board.strings) return;
    const int capo = board.neck.capo;
    const float y = board.course(finger.place.string), from = board.finger(finger.place.fret + capo),
                radius = canvas.unit(1.25);
    if (finger.targetFret) {
        const float to = board.finger(*finger.targetFret + capo), side = to < from ? 1.0f : -1.0f;
        canvas.line(from, y, to + side * radius, y, canvas.colours.ink, canvas.unit(0.75));
        canvas.mark(Shape::ring, to, y, radius);
    }
    canvas.mark(Shape::disc, from, y, radius);
}

Board boardIn(const Canvas& canvas, const Neck& neck, const Box& box) {
    const float gutter = labelGutter(canvas);
    const float numbers = canvas.lineHeight(TextSize::small);
    return {neck,
            {neck.leftHanded ? box.x : box.x + gutter, box.y + canvas.unit(1), box.width - gutter,
             box.height - numbers - canvas.unit(2)},
            neck.leftHanded ? canvas.unit(1.5) : -canvas.unit(1.5)};
}

}  // namespace

namespace {

// Bias and doubt in one line where they fit, else one over the other, else the bias alone: what is printed is whole.
void drawMapMark(Canvas& canvas, const MapMark& mark, const Box& cell, bool chosen) {
    using Lean = MapMark::Lean;
    const float small = canvas.lineHeight(TextSize::small), room = cell.width - canvas.unit(1),
                middle = cell.x + 0.5f * cell.width;
    canvas.fill(cell, canvas.colours.paper);
    if (mark.lean == Lean::under) canvas.fill(cell, canvas.colours.under, 0.32f);
    if (mark.lean == Lean::over) canvas.fill(cell, canvas.colours.over, 0.32f);
    if (mark.lean != Lean::few || chosen) {
        const Colour edge = mark.lean == Lean::under  ? canvas.colours.under
                            : mark.lean == Lean::over ? canvas.colours.over
                                                      : canvas.colours.quiet;
        const float thick = canvas.unit(chosen ? 0.5 : 0.25);
        for (const float y : {cell.y, cell.bottom()})
            canvas.line(cell.x, y, cell.right(), y, chosen ? canvas.colours.ink : edge, thick);
        for (const float x : {cell.x, cell.right()})
            canvas.line(x, cell.y, x, cell.bottom(), chosen ? canvas.colours.ink : edge, thick);
    }
    const Ink ink = mark.lean == Lean::few ? Ink::quiet : Ink::full;
    const std::string both = mark.doubt.empty() ? mark.bias : mark.bias + "  " + mark.doubt;
    const float share = std::min(1.0f, cell.height / small), middleLine = cell.y + 0.5f * cell.height;
    // a shrunken line stays on its base line
    const float line = middleLine - small * (0.5f * share + 0.8f * (1.0f - share));
    if (canvas.fitting(both, TextSize::small, room) >= 0.8f) {
        canvas.text(middle, line, both, TextSize::small, ink, room, Side::centre, share);
    } else if (cell.height >= 1.6f * small && !mark.doubt.empty()) {
        canvas.text(middle, line - 0.4f * small, mark.bias, TextSize::small, ink, room, Side::centre, 0.85f);
        canvas.text(middle, line + 0.45f * small, mark.doubt, TextSize::small, Ink::quiet, room, Side::centre, 0.75f);
    } else {
        canvas.text(middle, line, mark.bias, TextSize::small, ink, room, Side::centre, share);
    }
}

}  // namespace

std::optional<int> drawNeckMap(Canvas& canvas, const Neck& neck, const std::vector<MapMark>& marks,
                               std::optional<int> chosen, const Box& box) {
    int low = neck.highestFret, high = 0;
    for (const MapMark& mark : marks) {
        low = std::min(low, mark.place.fret + neck.capo);
        high = std::max(high, mark.place.fret + neck.capo);
    }
    // At least nine frets, so that a place is seen on a neck.
    high = std::min(neck.highestFret, std::max(high + 1, low + 8));
    low = std::max(0, std::min(low - 2, high - 9));
    Board board = boardIn(canvas, neck, box);
    if (!marks.empty()) {
        board.first = low;
        board.frets = high;
    }
    drawFrets(canvas, board);
    drawCourses(canvas, board, labelGutter(canvas));
    for (int fret = std::max(1, board.first + 1 - neck.capo); fret + neck.capo <= board.frets; ++fret)
        canvas.text(board.finger(fret + neck.capo), board.box.bottom() + canvas.unit(1.25), std::to_string(fret),
                    TextSize::small, Ink::quiet, 0.0f, Side::centre);
    const float gap = board.box.height / static_cast<float>(std::max(1, board.strings - 1));
    std::optional<int> clicked;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const MapMark& mark = marks[i];
        if (mark.place.string < 1 || mark.place.string > board.strings) continue;
        const int fret = mark.place.fret + neck.capo;
        const bool open = fret <= neck.capo;
        const float wide = open ? canvas.unit(7) : 0.9f * std::abs(board.wire(fret) - board.wire(fret - 1));
        const float width = std::min(wide, canvas.unit(13)), height = std::min(0.88f * gap, canvas.unit(6));
        const Box cell{board.finger(fret) - 0.5f * width, board.course(mark.place.string) - 0.5f * height, width,
                       height};
        drawMapMark(canvas, mark, cell, chosen == static_cast<int>(i));
        if (canvas.clicked(cell)) clicked = static_cast<int>(i);
    }
    return clicked;
}

std::optional<NeckPlace> clickedPlace(const Canvas& canvas, const Neck& neck, const Box& box) {
    const Board board = boardIn(canvas, neck, box);
    const float half = 0.5f * board.box.height / static_cast<float>(std::max(1, board.strings - 1));
    for (int string = 1; string <= board.strings; ++string)
        for (int fret = neck.capo + 1; fret <= board.frets; ++fret) {
            const float left = std::min(board.wire(fret - 1), board.wire(fret)),
                        wide = std::abs(board.wire(fret) - board.wire(fret - 1));
            if (canvas.clicked({left, board.course(string) - half, wide, 2.0f * half}))
                return NeckPlace{string, fret - neck.capo};
        }
    return {};
}

void drawNeck(Canvas& canvas, const Neck& neck, const Box& box) {
    const float gutter = labelGutter(canvas);
    const Board board = boardIn(canvas, neck, box);
    drawFrets(canvas, board);
    drawCourses(canvas, board, gutter);
    drawNumbers(canvas, board);

    if (neck.place) drawFinger(canvas, board, {*neck.place, neck.targetFret});
    for (const NeckFinger& finger : neck.others) drawFinger(canvas, board, finger);
}

}  // namespace landfall
