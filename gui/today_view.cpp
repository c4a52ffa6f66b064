#include <algorithm>

#include "gui/screen_view.h"
#include "gui/views.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

// What is asked below a name, what was done of it at the right, both small: the eye goes down the names.
Intents drawRows(Canvas& canvas, const Today& today, const Box& list) {
    Intents intents;
    const float medium = canvas.lineHeight(TextSize::medium), small = canvas.lineHeight(TextSize::small),
                pad = canvas.unit(1), height = medium + (today.ended ? 0.0f : small) + 2.0f * pad;
    const int count = static_cast<int>(today.rows.size());
    const Visible shown = visible(count, today.selected, height + pad, list);
    const float left = list.x + canvas.unit(today.ended ? 0 : 5), half = list.x + 0.55f * list.width,
                right = list.right() - canvas.unit(2), nameRoom = half - left - canvas.unit(2),
                askedRoom = right - left, doneRoom = right - half;
    const TextSize doneType = today.ended ? TextSize::medium : TextSize::small;
    const auto share = [&](TextSize type, float room, std::string TodayRow::*column) {
        return columnShare(canvas, today.rows, type, room,
                           [column](const TodayRow& row) { return std::string_view(row.*column); });
    };
    const float names = share(TextSize::medium, nameRoom, &TodayRow::name),
                asked = share(TextSize::small, askedRoom, &TodayRow::asked),
                done = share(doneType, doneRoom, &TodayRow::done);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const TodayRow& each = today.rows[static_cast<std::size_t>(index)];
        const Box row{list.x, list.y + static_cast<float>(i) * (height + pad), list.width, height};
        const bool chosen = index == today.selected && !today.ended;
        if (chosen) drawChosen(canvas, row);
        if (each.over) canvas.mark(Shape::inside, list.x + canvas.unit(3), row.y + pad + 0.5f * medium, canvas.unit(1));
        const bool length = chosen && index == 0;
        const Box name = canvas.text(left, row.y + pad, length ? "← " + each.name + " →" : each.name, TextSize::medium,
                                     Ink::full, nameRoom, Side::left, length ? 1.0f : names);
        canvas.text(left, row.y + pad + medium, each.asked, TextSize::small, Ink::quiet, askedRoom, Side::left, asked);
        canvas.text(right, row.y + pad + (today.ended ? 0.0f : 0.2f * medium), each.done, doneType, Ink::full, doneRoom,
                    Side::right, done);
        const auto arrow = length ? clickedArrow(canvas, name, Screen::today) : std::nullopt;
        if (arrow) intents.push_back(*arrow);
        else if (canvas.clicked(row)) intents.push_back({Kind::pick, Screen::today, index});
    }
    drawMore(canvas, shown, count, list);
    return intents;
}

Intents drawToday(Canvas& canvas, const Snapshot& snapshot) {
    const PracticeLayout layout = practiceLayout(canvas);
    const Today& today = snapshot.today;
    Intents intents = drawHeader(canvas, snapshot, layout.header);
    const float small = canvas.lineHeight(TextSize::small), gap = canvas.unit(2);
    Box body{layout.big.x, layout.header.bottom() + gap, layout.big.width, 0.0f};
    body.height = layout.keys.y - gap - body.y;
    // A title, and what is said to the student: the lesson's note, or what is to be kept.
    const Box title = canvas.text(body.x, body.y, today.ended ? "Today is done" : today.title, TextSize::medium,
                                  Ink::full, body.width);
    float top = title.bottom() + 0.5f * gap;
    const std::string& words = !today.message.empty() ? today.message : today.ended ? today.keep : today.note;
    if (!words.empty()) {
        const TextSize type = today.ended ? TextSize::medium : TextSize::small;
        const float tall = std::min(2.0f * canvas.lineHeight(type), canvas.paragraphHeight(words, type, body.width));
        canvas.paragraph(body.x, top, words, type, Ink::full, body.width, 2);
        top += tall;
    }
    top += gap;
    const Intents more = drawRows(canvas, today, {body.x, top, body.width, body.bottom() - small - top});
    intents.insert(intents.end(), more.begin(), more.end());
    const Intents keys = drawKeys(canvas, snapshot, layout.keys);
    intents.insert(intents.end(), keys.begin(), keys.end());
    return intents;
}

Keys todayKeys(const Snapshot& snapshot) {
    if (snapshot.today.ended) return {.all = {enter("homework"), press(key::escape, Kind::open, "back to practice")}};
    const bool first = snapshot.today.selected == 0;
    return {
        .all = {upAndDown("choose"), enter(first ? "start" : "play this one"), leftAndRight(first ? "how long" : "")}};
}

}  // namespace

extern const ScreenView todayView{.screen = Screen::today,
                                  .name = "today",
                                  .title = [](const Snapshot&) -> std::string { return "Today"; },
                                  .draw = drawToday,
                                  .keys = todayKeys};

}  // namespace landfall
