// The practice screen while a line is practised: stepping stones, a small sweep for each move.
#include <algorithm>
#include <cmath>
#include <string>

#include "gui/views.h"
#include "gui/words.h"

namespace landfall {

namespace {

constexpr double between = 1.5;  // units from stone to stone
constexpr double least = 10.0;   // units: a stone's width, and what its sweep is high

float captionHeight(const Canvas& canvas) { return canvas.lineHeight(TextSize::medium); }

// Type shrinks before it is cut; words that would be cut are better left out.
bool fits(const Canvas& canvas, const std::string& words, float room) {
    return !words.empty() && 0.58f * canvas.textWidth(words, TextSize::medium) < room;
}

void drawStone(Canvas& canvas, const Stone& stone, Cents aim, const Box& cell) {
    const Box box{cell.x, cell.y, cell.width, cell.height - captionHeight(canvas)};
    const SweepScale scale = sweepScale(box, aim, {stone.step}, stone.length);
    canvas.panel(box);
    const Cents own = stone.aim.value_or(aim);
    const float top = scale.y(own), bottom = scale.y(-own), middle = scale.y(Cents(0.0));
    if (own.value > 0.0) {
        drawAim(canvas, {box.x, top, box.width, bottom - top});
        canvas.line(box.x, middle, box.right(), middle, canvas.colours.quiet, canvas.unit(0.25));
    }
    const bool moves = stone.step.start && abs(*stone.step.start).value >= 1.0;
    if (moves) canvas.dashes(box.x, box.x + 0.3f * box.width, scale.y(*stone.step.start), canvas.colours.quiet);
    drawTrace(canvas, scale, stone.trace, !stone.before, stone.before ? 0.35f : 1.0f);
    // A move that did not land, or never came, has its mark in the middle.
    for (const TryMark& mark : stone.trace.marks)
        if (!mark.firstStop || !mark.arrival)
            canvas.mark(shapeOf(mark), box.x + 0.5f * box.width, middle, canvas.unit(1.5), stone.before ? 0.35f : 1.0f);
    const std::string& caption = stone.number.empty() ? stone.name : stone.number;
    if (fits(canvas, caption, box.width))
        canvas.text(box.x, box.bottom(), caption, TextSize::medium, stone.failed ? Ink::full : Ink::quiet, box.width);
}

// To be played next: a frame. Gone wrong: a thick line under it, the one to be mended
// has one on each side too.
void pointOut(Canvas& canvas, const Stones& stones, std::size_t i, const Box& cell) {
    const float out = canvas.unit(0.5), ink = canvas.unit(0.4);
    const float left = cell.x - out, right = cell.right() + out, top = cell.y - out, bottom = cell.bottom() + out;
    if (stones.next == i) {
        canvas.line(left, top, right, top, canvas.colours.ink, ink);
        canvas.line(left, bottom, right, bottom, canvas.colours.ink, ink);
        canvas.line(left, top, left, bottom, canvas.colours.ink, ink);
        canvas.line(right, top, right, bottom, canvas.colours.ink, ink);
    }
    const Stone& stone = stones.stones[i];
    if (stone.failed && !stone.before)
        canvas.fill({cell.x, cell.bottom() - canvas.unit(0.6), cell.width, canvas.unit(0.6)}, canvas.colours.ink);
    if (stones.mend == i)
        for (const float x : {cell.x - canvas.unit(1), cell.right() + canvas.unit(0.4)})
            canvas.fill({x, cell.y, canvas.unit(0.6), cell.height}, canvas.colours.ink);
}

Words wordsOf(const Stones& stones) {
    switch (stones.moment) {
        case Moment::warmUp: return {"Warm up", stones.sentence};
        case Moment::rest:
            return {"Rest", stones.sentence.empty() ? "Hand off the neck; shake it out." : stones.sentence};
        default: return {stones.big, stones.sentence};
    }
}

}  // namespace

StonesLayout stonesLayout(const Canvas& canvas, const Box& area, std::size_t stones, std::size_t about) {
    StonesLayout layout;
    if (stones == 0) return layout;
    const float gap = canvas.unit(between), leastWide = canvas.unit(least),
                leastHigh = 0.6f * canvas.unit(least) + captionHeight(canvas);
    const auto most = std::max<std::size_t>(1, static_cast<std::size_t>((area.width + gap) / (leastWide + gap)));
    const auto wide = [&](std::size_t across) {
        const auto count = static_cast<float>(across);
        return (area.width - (count - 1.0f) * gap) / count;
    };
    const auto high = [&](std::size_t across) {
        const std::size_t rows = (stones + across - 1) / across;
        return (area.height - static_cast<float>(rows - 1) * gap) / static_cast<float>(rows);
    };
    // Stones a little wider than they are high, as large as they can be.
    std::size_t across = most;
    const auto size = [&](std::size_t count) { return std::min(wide(count), 1.3f * high(count)); };
    for (std::size_t count = std::min(most, stones); count > 0; --count)
        if (size(count) > size(across)) across = count;
    const float height = std::clamp(high(across), leastHigh, canvas.unit(30)),
                width = std::min(wide(across), 1.6f * height);
    const std::size_t rows = (stones + across - 1) / across,
                      fit = std::max<std::size_t>(1, static_cast<std::size_t>((area.height + gap) / (height + gap)));
    const std::size_t row = std::min(about, stones - 1) / across,
                      firstRow = rows <= fit ? 0 : std::min(row > 0 ? row - 1 : 0, rows - fit);
    layout.first = firstRow * across;
    for (std::size_t i = layout.first; i < std::min(stones, (firstRow + fit) * across); ++i) {
        const std::size_t column = i % across, line = i / across - firstRow;
        layout.boxes.push_back({area.x + static_cast<float>(column) * (width + gap),
                                area.y + static_cast<float>(line) * (height + gap), width, height});
    }
    return layout;
}

Intents drawStones(Canvas& canvas, const Snapshot& snapshot) {
    const Stones& stones = *snapshot.stones;
    const PracticeLayout layout = practiceLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, layout.header);
    const auto stopped = stoppedBy(snapshot);
    const Words words = stopped ? *stopped : wordsOf(stones);
    // A big line shrinks to 45 %; what then still is too long stands on two lines.
    const bool twoLines = 0.47f * canvas.textWidth(words.headline, TextSize::big) > layout.big.width;
    const float left =
        (twoLines ? canvas.paragraph(layout.big.x, layout.big.y, words.headline, TextSize::medium, Ink::full,
                                     layout.big.width, 2)
                  : canvas.text(layout.big.x, layout.big.y, words.headline, TextSize::big, Ink::full, layout.big.width))
            .right();
    canvas.paragraph(layout.sentence.x, layout.sentence.y, words.rest, TextSize::medium, Ink::full,
                     layout.sentence.width, sentenceLinesUsual);
    const bool rests = stones.moment == Moment::warmUp || stones.moment == Moment::rest;
    if (!stopped && rests) drawRest(canvas, layout.big, left, stones.restLeft, stones.restLength);

    const float top = layout.sentence.bottom() + canvas.unit(2);
    const Box area{layout.sweep.x, top, layout.big.width, layout.keys.y - canvas.unit(2.5) - top};
    const StonesLayout laid =
        stonesLayout(canvas, area, stones.stones.size(), stones.next.value_or(stones.mend.value_or(0)));
    for (std::size_t i = 0; i < laid.boxes.size(); ++i) {
        const Box& box = laid.boxes[i];
        const Stone& stone = stones.stones[laid.first + i];
        // Under one stroke: joined to the one before.
        const float joint = box.y + 0.5f * (box.height - captionHeight(canvas));
        if (stone.goesOn && i > 0 && laid.boxes[i - 1].y == box.y)
            canvas.line(laid.boxes[i - 1].right(), joint, box.x, joint, canvas.colours.quiet, canvas.unit(0.25));
        drawStone(canvas, stone, stones.aim, box);
        pointOut(canvas, stones, laid.first + i, box);
    }
    const Intents more = drawKeys(canvas, snapshot, layout.keys);
    intents.insert(intents.end(), more.begin(), more.end());
    return intents;
}

// Learned keys first, as in a drill.
Keys stonesKeys(const Snapshot& snapshot) {
    using Kind = Intent::Kind;
    const Stones& stones = *snapshot.stones;
    const KeyMap& keys = snapshot.keys;
    return {.all = {press(keys.again, Kind::again, stones.againDoes), press(keys.next, Kind::next, stones.nextDoes),
                    press(keys.discard, Kind::discard, "drop the last pass"), press(key::left, Kind::again),
                    press(key::right, Kind::next)}};
}

}  // namespace landfall
