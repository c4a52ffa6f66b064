#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "gui/views.h"

namespace landfall {

void drawNeck(Canvas& canvas, const Neck& neck, const Box& box) {
    const float gutter = labelGutter(canvas);
    const float numbers = canvas.lineHeight(TextSize::small);
    const Box board{neck.leftHanded ? box.x : box.x + gutter, box.y + canvas.unit(1), box.width - gutter,
                    box.height - numbers - canvas.unit(2)};
    const int strings = std::max(neck.strings, 1), frets = std::max(neck.highestFret, 12);

    // Frets stand as on a real neck: fret n at scale·(1 - 2^(-n/12)) from the nut.
    const auto wire = [&](int fret) {
        const double share = (1.0 - std::exp2(-fret / 12.0)) / (1.0 - std::exp2(-frets / 12.0));
        const float along = board.width * static_cast<float>(share);
        return neck.leftHanded ? board.right() - along : board.x + along;
    };
    const auto finger = [&](int fret) {  // where the finger stands; before the nut for an open string
        const float outward = neck.leftHanded ? canvas.unit(1.5) : -canvas.unit(1.5);
        return fret <= neck.capo ? wire(neck.capo) + outward : (wire(fret - 1) + wire(fret)) / 2.0f;
    };
    const auto course = [&](int string) {
        return strings == 1 ? board.y + board.height / 2.0f
                            : board.y + board.height * static_cast<float>(string - 1) / static_cast<float>(strings - 1);
    };

    const float over = canvas.unit(0.5);
    for (int fret = 0; fret <= frets; ++fret)
        canvas.line(wire(fret), board.y - over, wire(fret), board.bottom() + over, canvas.colours.rule,
                    fret == 0 ? canvas.unit(0.75) : canvas.unit(0.2));
    if (neck.capo > 0)
        canvas.fill({wire(neck.capo) - canvas.unit(0.5), board.y - canvas.unit(1), canvas.unit(1),
                     board.height + canvas.unit(2)},
                    canvas.colours.quiet, 1.0f, canvas.unit(0.5));
    for (int string = 1; string <= strings; ++string) {
        const float y = course(string);
        const bool asked = neck.place && neck.place->string == string;
        canvas.line(board.x, y, board.right(), y, asked ? canvas.colours.ink : canvas.colours.quiet,
                    asked ? canvas.unit(0.4) : 1.0f + 0.2f * static_cast<float>(string), asked ? 1.0f : 0.5f);
        // On a small neck the names would run into each other: then only the asked string is named.
        const bool roomy = board.height / static_cast<float>(strings) > 0.8f * canvas.lineHeight(TextSize::small);
        const auto index = static_cast<std::size_t>(string - 1);
        if (index < neck.stringNames.size() && (asked || (roomy && !neck.place)))
            canvas.text(neck.leftHanded ? board.right() + canvas.unit(3.5) : board.x - canvas.unit(3.5),
                        y - 0.45f * canvas.lineHeight(TextSize::small), neck.stringNames[index], TextSize::small,
                        Ink::full, gutter - canvas.unit(3.5), neck.leftHanded ? Side::left : Side::right);
    }

    constexpr std::array numbered{3, 5, 7, 9, 12, 15, 17, 19, 21, 24};
    const float below = board.bottom() + canvas.unit(1);
    const int askedFret = neck.place ? neck.place->fret : -1, target = neck.targetFret.value_or(-1);
    for (int fret = 1; fret + neck.capo <= frets; ++fret) {
        const bool asked = fret == askedFret || fret == target;
        const bool beside = std::abs(fret - askedFret) == 1 || std::abs(fret - target) == 1;
        if (!asked && (beside || std::find(numbered.begin(), numbered.end(), fret) == numbered.end())) continue;
        canvas.text(finger(fret + neck.capo), below, std::to_string(fret), TextSize::small,
                    asked ? Ink::full : Ink::quiet, 0.0f, Side::centre);
    }

    if (!neck.place || neck.place->string < 1 || neck.place->string > strings) return;
    const float y = course(neck.place->string), from = finger(neck.place->fret + neck.capo), radius = canvas.unit(1.25);
    if (neck.targetFret) {
        const float to = finger(*neck.targetFret + neck.capo), side = to < from ? 1.0f : -1.0f;
        canvas.line(from, y, to + side * radius, y, canvas.colours.ink, canvas.unit(0.75));
        canvas.mark(Shape::ring, to, y, radius);
    }
    canvas.mark(Shape::disc, from, y, radius);
}

}  // namespace landfall
