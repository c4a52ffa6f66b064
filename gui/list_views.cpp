#include <algorithm>
#include <cmath>
#include <string>

#include "gui/screen_view.h"
#include "gui/views.h"
#include "gui/words.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

std::string shownValue(const SettingRow& setting, bool chosen) {
    if (setting.learning) return "press the key or pedal";
    if (setting.typing) return setting.value + "_";
    return chosen && setting.steps && !setting.value.empty() ? betweenArrows(setting.value) : setting.value;
}

// A group's own row bears a sign: + unfolds it, − folds it.
Intents drawSettingRows(Canvas& canvas, const std::vector<SettingRow>& rows, int selected, const Box& list,
                        Screen screen) {
    using RowKind = SettingRow::Kind;
    Intents intents;
    const float medium = canvas.lineHeight(TextSize::medium), pad = canvas.unit(0.75), height = medium + 2.0f * pad;
    const float left = list.x + canvas.unit(2), value = list.x + 0.5f * list.width,
                sign = canvas.unit(1) + std::max(canvas.unit(3), canvas.textWidth("+ ", TextSize::medium));
    const float labelRoom = value - left - 2.0f * sign, valueRoom = list.right() - value - canvas.unit(2);
    const float labels = columnShare(canvas, rows, TextSize::medium, labelRoom,
                                     [](const SettingRow& row) { return std::string_view(row.label); });
    const float values = columnShare(canvas, rows, TextSize::medium, valueRoom,
                                     [](const SettingRow& row) { return shownValue(row, true); });
    const int count = static_cast<int>(rows.size());
    const Visible shown = visible(count, selected, height, list);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const SettingRow& setting = rowAt(rows, index);
        const Box row{list.x, list.y + static_cast<float>(i) * height, list.width, height};
        const bool chosen = index == selected, group = setting.kind <= RowKind::openGroup;
        if (chosen) drawChosen(canvas, row);
        const float y = row.y + pad;
        if (group && setting.kind != RowKind::single)
            canvas.text(left, y, setting.kind == RowKind::group ? "+" : "−", TextSize::medium, Ink::quiet);
        const float label = left + (setting.kind == RowKind::single ? 0.0f : group ? sign : 2.0f * sign);
        canvas.text(label, y, setting.label, TextSize::medium, Ink::full, value - label, Side::left, labels);
        const Box words = canvas.text(value, y, shownValue(setting, chosen), TextSize::medium,
                                      chosen && !group ? Ink::full : Ink::quiet, valueRoom, Side::left, values);
        const auto arrow = chosen && setting.steps ? clickedArrow(canvas, words, screen) : std::nullopt;
        if (arrow) intents.push_back(*arrow);
        else if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, screen, index});
    }
    drawMore(canvas, shown, count, list);
    return intents;
}

// A filter of the drills, with arrows where less and more change it; a click marks it, or is on one of them.
Intents drawFilter(Canvas& canvas, Box& box, const std::string& filter, bool marked, DrillList::Line line) {
    box = canvas.text(box.x, box.y, marked ? betweenArrows(filter) : filter, TextSize::small,
                      marked ? Ink::full : Ink::quiet, box.width);
    if (const auto arrow = marked ? clickedArrow(canvas, box, Screen::drills) : std::nullopt) return {*arrow};
    if (canvas.clicked(box)) return {{Kind::pick, Screen::drills, pickedFilter(line)}};
    return {};
}

Intents drawElsewhere(Canvas& canvas, const PlaceChoice& choice, const Box& body) {
    const float medium = canvas.lineHeight(TextSize::medium);
    canvas.text(body.x, body.y, choice.drill + ", elsewhere on the neck", TextSize::medium, Ink::full, body.width);
    const Box list{body.x, body.y + 2.0f * medium, body.width, body.height - 5.0f * medium};
    Intents intents = drawSettingRows(canvas, choice.rows, choice.selected, list, Screen::drills);
    const float rows = static_cast<float>(choice.rows.size()) * (medium + canvas.unit(1.5));
    const float said = std::min(list.y + rows + 0.5f * medium, body.bottom() - 2.5f * medium);
    canvas.paragraph(body.x, said, choice.plays, TextSize::medium, Ink::full, body.width, 2);
    const Box neck{body.x, said + 2.25f * medium, body.width,
                   std::min(body.bottom() - said - 2.25f * medium, canvas.unit(26))};
    if (neck.height < canvas.unit(11) || !choice.neck.place) return intents;
    drawNeck(canvas, choice.neck, neck);
    if (const auto place = clickedPlace(canvas, choice.neck, neck))
        intents.push_back({Kind::pick, Screen::drills, pickedPlace(*place)});
    return intents;
}

}  // namespace

PageLayout pageLayout(const Canvas& canvas) {
    const PracticeLayout layout = practiceLayout(canvas);
    const float top = layout.header.bottom() + canvas.unit(2);
    return {layout.header, {layout.big.x, top, layout.big.width, layout.keys.y - canvas.unit(2) - top}, layout.keys};
}

std::string betweenArrows(const std::string& words) { return "← " + words + " →"; }

Visible visible(int rows, int chosen, float rowHeight, const Box& box) {
    const int fit = std::max(1, static_cast<int>(box.height / rowHeight));
    const int first = std::clamp(chosen - fit / 2, 0, std::max(0, rows - fit));
    return {first, std::min(fit, rows - first)};
}

void drawChosen(Canvas& canvas, const Box& row) {
    canvas.panel(row);
    canvas.fill({row.x, row.y, canvas.unit(0.5), row.height}, canvas.colours.ink);
}

void drawMore(Canvas& canvas, const Visible& shown, int rows, const Box& box) {
    const int below = rows - shown.first - shown.count;
    std::string more = shown.first > 0 ? std::to_string(shown.first) + " more ↑" : "";
    if (below > 0) more += (more.empty() ? "" : "  ·  ") + std::to_string(below) + " more ↓";
    if (!more.empty())
        canvas.text(box.right(), box.bottom() - 0.2f * canvas.lineHeight(TextSize::small), more, TextSize::small,
                    Ink::quiet, 0.0f, Side::right);
}

std::optional<Intent> clickedArrow(const Canvas& canvas, const Box& words, Screen screen) {
    const float wide = canvas.textWidth("← ", TextSize::medium), beside = canvas.unit(1.5);
    const float top = words.y - 0.2f * words.height, tall = 1.4f * words.height;
    if (canvas.clicked({words.x - beside, top, wide + beside, tall})) return Intent{Kind::less, screen, 0};
    if (canvas.clicked({words.right() - wide, top, wide + beside, tall})) return Intent{Kind::more, screen, 0};
    return {};
}

Intents drawDrills(Canvas& canvas, const Snapshot& snapshot) {
    const PageLayout frame = pageLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const DrillList& drills = snapshot.drills;
    if (drills.elsewhere) {
        add(intents, drawElsewhere(canvas, *drills.elsewhere, frame.body));
        add(intents, drawKeys(canvas, snapshot, frame.keys));
        return intents;
    }
    const float medium = canvas.lineHeight(TextSize::medium), small = canvas.lineHeight(TextSize::small),
                pad = canvas.unit(1);
    using Line = DrillList::Line;
    Box gestures{frame.body.x, frame.body.y, 0.3f * frame.body.width, small};
    add(intents, drawFilter(canvas, gestures, drills.gestures, drills.line != Line::strings, Line::gestures));
    Box strings{gestures.right() + canvas.unit(4), frame.body.y, 0.3f * frame.body.width, small};
    add(intents, drawFilter(canvas, strings, drills.strings, drills.line == Line::strings, Line::strings));
    canvas.text(frame.body.right(), frame.body.y, drills.message, TextSize::small, Ink::full, 0.5f * frame.body.width,
                Side::right);
    const Box list{frame.body.x, frame.body.y + small + canvas.unit(1.5), frame.body.width,
                   frame.body.height - 2.0f * small - canvas.unit(1.5)};
    if (drills.rows.empty())
        canvas.text(list.x, list.y, "No drill fits both filters. ← → change this one, ↑ ↓ go to the other.",
                    TextSize::medium, Ink::full, list.width);

    const float height = medium + small + 2.0f * pad;
    const int count = static_cast<int>(drills.rows.size());
    const Visible shown = visible(count, drills.selected, height + pad, list);
    // What it trains, where on the neck, how long: a column each, so that the eye goes down them.
    const float left = list.x + canvas.unit(2), place = list.x + 0.5f * list.width,
                right = list.right() - canvas.unit(2), nameRoom = place - left - canvas.unit(2),
                lengthRoom = 0.14f * list.width, trainsRoom = right - left,
                placeRoom = right - lengthRoom - place - canvas.unit(2);
    const auto share = [&](TextSize type, float room, std::string DrillRow::*column) {
        return columnShare(canvas, drills.rows, type, room,
                           [column](const DrillRow& row) { return std::string_view(row.*column); });
    };
    const float names = share(TextSize::medium, nameRoom, &DrillRow::name),
                trained = share(TextSize::small, trainsRoom, &DrillRow::trains),
                places = share(TextSize::small, placeRoom, &DrillRow::where),
                lengths = share(TextSize::small, lengthRoom, &DrillRow::length);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const DrillRow& drill = rowAt(drills.rows, index);
        const Box row{list.x, list.y + static_cast<float>(i) * (height + pad), list.width, height};
        if (index == drills.selected && drills.line == DrillList::Line::drills) drawChosen(canvas, row);
        canvas.text(left, row.y + pad, drill.name, TextSize::medium, Ink::full, nameRoom, Side::left, names);
        canvas.text(left, row.y + pad + medium, drill.trains, TextSize::small, Ink::quiet, trainsRoom, Side::left,
                    trained);
        const float y = row.y + pad + 0.2f * medium;
        canvas.text(right, y, drill.length, TextSize::small, Ink::full, lengthRoom, Side::right, lengths);
        canvas.text(place, y, drill.where, TextSize::small, Ink::full, placeRoom, Side::left, places);
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::drills, index});
    }
    drawMore(canvas, shown, count, list);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

Intents drawSettings(Canvas& canvas, const Snapshot& snapshot) {
    const PageLayout frame = pageLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const SettingList& settings = snapshot.settings;
    const float small = canvas.lineHeight(TextSize::small);
    const Box list{frame.body.x, frame.body.y, frame.body.width, frame.body.height - 2.0f * small};
    add(intents, drawSettingRows(canvas, settings.rows, settings.selected, list, Screen::settings));
    canvas.text(list.x, frame.body.bottom() - small, settings.message, TextSize::small, Ink::full, 0.8f * list.width);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

Intents drawLessonMaker(Canvas& canvas, const Snapshot& snapshot) {
    const PageLayout frame = pageLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, frame.header);
    const SettingList& lesson = snapshot.lesson;
    const float small = canvas.lineHeight(TextSize::small), said = 2.0f * small;
    const Box list{frame.body.x, frame.body.y, frame.body.width, frame.body.height - said - small};
    add(intents, drawSettingRows(canvas, lesson.rows, lesson.selected, list, Screen::lesson));
    canvas.paragraph(list.x, frame.body.bottom() - said, lesson.message, TextSize::small, Ink::full, list.width, 2);
    add(intents, drawKeys(canvas, snapshot, frame.keys));
    return intents;
}

namespace {

Keys drillsKeys(const Snapshot& snapshot) {
    if (snapshot.drills.elsewhere)
        return {.all = {upAndDown("choose"), leftAndRight("change"), enter("keep and play"), backspace("back"),
                        press(key::escape, Kind::decline)}};
    if (snapshot.drills.rows.empty())
        return {.all = {upAndDown("mark a filter"), leftAndRight("change it"), enter({}), backspace({})}};
    return {.all = {upAndDown("choose"), enter("play"), press('E', Kind::decline, "elsewhere on the neck"),
                    leftAndRight("filter")}};
}

}  // namespace

extern const ScreenView drillsView{.screen = Screen::drills,
                                   .name = "drills",
                                   .title = [](const Snapshot&) -> std::string { return "Drills"; },
                                   .draw = drawDrills,
                                   .keys = drillsKeys};

namespace {

Keys settingsKeys(const Snapshot& snapshot) {
    for (const SettingRow& row : snapshot.settings.rows) {
        if (row.learning)
            return {.all = {{.shown = "press", .does = "the key or pedal", .presses = {}},
                            press(key::escape, Kind::decline, "leave it")},
                    .others = Keys::Others::learned};
        if (row.typing)
            return {.all = {{.shown = "type", .does = "the value", .presses = {}},
                            press(key::enter, Kind::choose, "keep"),
                            press(key::escape, Kind::decline, "leave"),
                            press(key::backspace, Kind::erase)},
                    .others = Keys::Others::typed};
    }
    const SettingList& list = snapshot.settings;
    const auto kind = list.rows.empty() ? SettingRow::Kind::single : rowAt(list.rows, list.selected).kind;
    const bool group = kind == SettingRow::Kind::group || kind == SettingRow::Kind::openGroup;
    if (group)
        return {
            .all = {upAndDown("choose"), enter(kind == SettingRow::Kind::group ? "unfold" : "fold"), leftAndRight({})}};
    return {.all = {upAndDown("choose"), leftAndRight("change"), enter("learn, type or open")}};
}

}  // namespace

extern const ScreenView settingsView{.screen = Screen::settings,
                                     .name = "settings",
                                     .title = [](const Snapshot&) -> std::string { return "Settings"; },
                                     .draw = drawSettings,
                                     .keys = settingsKeys};

namespace {

Keys lessonMakerKeys(const Snapshot& snapshot) {
    const SettingList& lesson = snapshot.lesson;
    if (lesson.rows.empty()) return {};
    const SettingRow& row = rowAt(lesson.rows, lesson.selected);
    if (row.typing)
        return {.all = {{.shown = "type", .does = "the words", .presses = {}},
                        press(key::enter, Kind::choose, "keep"),
                        press(key::escape, Kind::decline, "leave"),
                        press(key::backspace, Kind::erase)},
                .others = Keys::Others::typed};
    using RowKind = SettingRow::Kind;
    if (row.kind == RowKind::group || row.kind == RowKind::openGroup)
        return {.all = {upAndDown("choose"), enter(row.kind == RowKind::group ? "its goals" : "fold"),
                        leftAndRight("earlier, later"), backspace("take it out")}};
    if (row.kind == RowKind::grouped)
        return {.all = {upAndDown("choose"), row.steps ? leftAndRight("change") : enter("type"),
                        press(key::backspace, Kind::decline, "take it out")}};
    if (row.steps)
        return {
            .all = {upAndDown("choose"), leftAndRight("which one"), enter(row.label == "add" ? "add it" : "open it")}};
    return {.all = {upAndDown("choose"), enter(row.label == "save" ? "save" : "type")}};
}

}  // namespace

extern const ScreenView lessonMakerView{
    .screen = Screen::lesson,
    .name = "lesson",
    .title = [](const Snapshot&) -> std::string { return "A lesson for a student"; },
    .draw = drawLessonMaker,
    .keys = lessonMakerKeys};

}  // namespace landfall
