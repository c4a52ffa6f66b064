#include <algorithm>
#include <cmath>
#include <string>

#include "gui/views.h"
#include "gui/words.h"

namespace landfall {

namespace {

struct Frame {
    Box header, body, keys;
};

Frame frameOf(const Canvas& canvas) {
    const PracticeLayout layout = practiceLayout(canvas);
    const float top = layout.header.bottom() + canvas.unit(2);
    return {layout.header, {layout.big.x, top, layout.big.width, layout.keys.y - canvas.unit(2) - top}, layout.keys};
}

// The rows to draw so that the chosen one is among them: first row and how many.
struct Visible {
    int first = 0, count = 0;
};
Visible visible(int rows, int chosen, float rowHeight, const Box& box) {
    const int fit = std::max(1, static_cast<int>(box.height / rowHeight));
    const int first = std::clamp(chosen - fit / 2, 0, std::max(0, rows - fit));
    return {first, std::min(fit, rows - first)};
}

void drawChosen(Canvas& canvas, const Box& row) {
    canvas.fill(row, canvas.colours.panel, 1.0f, canvas.unit(0.5));
    canvas.fill({row.x, row.y, canvas.unit(0.5), row.height}, canvas.colours.ink);
}

void drawMore(Canvas& canvas, const Visible& shown, int rows, const Box& box) {
    const int below = rows - shown.first - shown.count;
    if (below > 0)
        canvas.text(box.right(), box.bottom() - 0.2f * canvas.lineHeight(TextSize::small), std::to_string(below) + " more ↓", TextSize::small, Ink::quiet, 0.0f, Side::right);
}

void add(Intents& intents, const Intents& more) { intents.insert(intents.end(), more.begin(), more.end()); }

template <typename T>
const T& rowAt(const std::vector<T>& rows, int index) { return rows[static_cast<std::size_t>(index)]; }

}  // namespace

Intents drawDrills(Canvas& canvas, const Snapshot& snapshot) {
    const Frame frame = frameOf(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const DrillList& drills = snapshot.drills;
    const float medium = canvas.lineHeight(TextSize::medium), small = canvas.lineHeight(TextSize::small), pad = canvas.unit(1);
    canvas.text(frame.body.x, frame.body.y, "← " + drills.filter + " →", TextSize::small, Ink::quiet, frame.body.width);
    const Box list{frame.body.x, frame.body.y + small + canvas.unit(1.5), frame.body.width, frame.body.height - 2.0f * small - canvas.unit(1.5)};
    if (drills.rows.empty()) canvas.text(list.x, list.y, "No drill fits this filter: press → for the next one.", TextSize::medium, Ink::full, list.width);

    const float height = medium + small + 2.0f * pad;
    const int count = static_cast<int>(drills.rows.size());
    const Visible shown = visible(count, drills.selected, height + pad, list);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const DrillRow& drill = rowAt(drills.rows, index);
        const Box row{list.x, list.y + static_cast<float>(i) * (height + pad), list.width, height};
        if (index == drills.selected) drawChosen(canvas, row);
        const float left = row.x + canvas.unit(2), right = row.right() - canvas.unit(2), narrow = 0.34f * row.width;
        canvas.text(left, row.y + pad, drill.name, TextSize::medium, Ink::full, row.width - narrow - canvas.unit(6));
        canvas.text(left, row.y + pad + medium, drill.trains, TextSize::small, Ink::quiet, row.width - narrow - canvas.unit(6));
        canvas.text(right, row.y + pad + 0.2f * medium, drill.length, TextSize::small, Ink::full, narrow, Side::right);
        canvas.text(right, row.y + pad + medium, drill.where, TextSize::small, Ink::quiet, narrow, Side::right);
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::drills, index});
    }
    drawMore(canvas, shown, count, list);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

Intents drawHistory(Canvas& canvas, const Snapshot& snapshot) {
    const Frame frame = frameOf(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const History& history = snapshot.history;
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium), pad = canvas.unit(1);
    if (history.sittings.empty()) {
        canvas.text(frame.body.x, frame.body.y, "Nothing yet", TextSize::big, Ink::full, frame.body.width);
        canvas.text(frame.body.x, frame.body.y + canvas.lineHeight(TextSize::big), "Every try of a drill is kept here. Press 2 and start one.", TextSize::medium, Ink::full, frame.body.width);
        add(intents, drawKeys(canvas, snapshot, frame.keys));
        return intents;
    }
    canvas.text(frame.body.x, frame.body.y, history.totals, TextSize::small, Ink::full, frame.body.width);
    const float top = frame.body.y + small + canvas.unit(2), tall = frame.body.bottom() - small - top;
    const bool inTries = history.selectedTry.has_value();

    const Box left{frame.body.x, top, 0.42f * frame.body.width, tall};
    const float sittingHeight = medium + small + 2.0f * pad;
    const int sittings = static_cast<int>(history.sittings.size());
    const Visible shown = visible(sittings, history.sitting, sittingHeight + pad, left);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const SittingRow& sitting = rowAt(history.sittings, index);
        const Box row{left.x, left.y + static_cast<float>(i) * (sittingHeight + pad), left.width, sittingHeight};
        if (index == history.sitting) {
            if (inTries) canvas.fill(row, canvas.colours.panel, 1.0f, canvas.unit(0.5));
            else drawChosen(canvas, row);
        }
        const float x = row.x + canvas.unit(2), room = row.width - canvas.unit(4);
        canvas.text(x, row.y + pad, sitting.date, TextSize::medium, Ink::full, room);
        canvas.text(x, row.y + pad + medium, sitting.drills + "  ·  " + sitting.result, TextSize::small, Ink::quiet, room);
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::history, index});
    }
    drawMore(canvas, shown, sittings, left);

    const Box right{left.right() + canvas.unit(4), top, frame.body.right() - left.right() - canvas.unit(4), tall};
    if (history.tries.empty()) canvas.text(right.x, right.y, "No tries in this sitting.", TextSize::small, Ink::quiet, right.width);
    const float tryHeight = small + pad;
    const int tries = static_cast<int>(history.tries.size());
    const Visible shownTries = visible(tries, history.selectedTry.value_or(0), tryHeight, right);
    for (int i = 0; i < shownTries.count; ++i) {
        const int index = shownTries.first + i;
        const TryRow& attempt = rowAt(history.tries, index);
        const Box row{right.x, right.y + static_cast<float>(i) * tryHeight, right.width, tryHeight};
        if (index == history.selectedTry) drawChosen(canvas, row);
        const float y = row.y + 0.5f * pad, x = row.x + canvas.unit(2);
        if (!attempt.struck) canvas.mark(shapeOf(attempt.mark), x + canvas.unit(1), y + 0.4f * small, canvas.unit(0.9));
        const float wide = 0.56f * row.width;
        canvas.text(x + canvas.unit(4), y, attempt.move, TextSize::small, Ink::quiet, wide - canvas.unit(8));
        canvas.text(row.x + wide, y, attempt.struck ? "struck (" + attempt.words + ")" : attempt.words, TextSize::small, attempt.struck ? Ink::quiet : Ink::full, row.width - wide - canvas.unit(1));
    }
    drawMore(canvas, shownTries, tries, right);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

Intents drawSettings(Canvas& canvas, const Snapshot& snapshot) {
    const Frame frame = frameOf(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const SettingList& settings = snapshot.settings;
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium), pad = canvas.unit(0.75);
    const Box list{frame.body.x, frame.body.y, frame.body.width, frame.body.height - small};
    const float height = medium + 2.0f * pad;
    const int count = static_cast<int>(settings.rows.size());
    const Visible shown = visible(count, settings.selected, height, list);
    std::string group;
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const SettingRow& setting = rowAt(settings.rows, index);
        const Box row{list.x, list.y + static_cast<float>(i) * height, list.width, height};
        const bool chosen = index == settings.selected;
        if (chosen) drawChosen(canvas, row);
        if (setting.group != group) {
            group = setting.group;
            canvas.text(row.x + canvas.unit(2), row.y + pad + 0.2f * medium, group, TextSize::small, Ink::quiet, 0.2f * row.width);
        }
        const float label = row.x + 0.22f * row.width, value = row.x + 0.58f * row.width;
        canvas.text(label, row.y + pad, setting.label, TextSize::medium, Ink::full, value - label - canvas.unit(2));
        const std::string shownValue = setting.learning ? "press the key or pedal" : chosen ? "← " + setting.value + " →" : setting.value;
        canvas.text(value, row.y + pad, shownValue, TextSize::medium, chosen ? Ink::full : Ink::quiet, row.right() - value - canvas.unit(2));
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::settings, index});
    }
    drawMore(canvas, shown, count, list);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

}  // namespace landfall
