#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "gui/screen_view.h"
#include "gui/views.h"
#include "gui/words.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;
using Part = Overview::Part;

Intent pickInProgress(int value) { return {Kind::pick, Screen::progress, value}; }

// A row each; a click marks one, a second one opens its tries.
Intents drawFigures(Canvas& canvas, const Overview& overview, const Box& box) {
    Intents intents;
    const auto& rows = overview.figures;
    const int count = static_cast<int>(rows.size());
    const float small = canvas.lineHeight(TextSize::small), pad = canvas.unit(1);
    const float tall =
        std::clamp(box.height / static_cast<float>(std::max(1, count)), 0.8f * small, small + canvas.unit(0.75));
    const float nameRoom = 0.58f * box.width - canvas.unit(3), valueRoom = 0.42f * box.width - pad;
    const float high = std::min(1.0f, tall / small);
    const float names = std::min(high, columnShare(canvas, rows, TextSize::small, nameRoom,
                                                   [](const Quantity& row) { return std::string_view(row.name); })),
                values = std::min(high, columnShare(canvas, rows, TextSize::small, valueRoom,
                                                    [](const Quantity& row) { return std::string_view(row.value); }));
    // The last line says how many more there are, where they do not all fit.
    const bool all = tall * static_cast<float>(count) <= box.height + 1.0f;
    const Box list{box.x, box.y, box.width, all ? box.height + 1.0f : box.height - small};
    const Visible shown = visible(count, overview.figure, tall, list);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const Quantity& figure = rowAt(rows, index);
        const Box row{box.x, box.y + static_cast<float>(i) * tall, box.width, tall};
        if (overview.part == Part::figures && overview.figure == index) drawChosen(canvas, row);
        const float y = row.y + 0.5f * tall - small * (0.5f * high + 0.8f * (1.0f - high));
        canvas.text(row.x + canvas.unit(2), y, figure.name, TextSize::small, Ink::quiet, nameRoom, Side::left, names);
        canvas.text(row.right() - pad, y, figure.value, TextSize::small, Ink::full, valueRoom, Side::right, values);
        if (canvas.clicked(row)) intents.push_back(pickInProgress(pickedFigures + index));
    }
    if (!all) drawMore(canvas, shown, count, list);
    return intents;
}

// Where a day's first tries landed (rings) and its later ones (discs), with their 90 % intervals.
Intents drawDays(Canvas& canvas, const Overview& overview, const Box& whole) {
    Intents intents;
    const float gutter = labelGutter(canvas), small = canvas.lineHeight(TextSize::small);
    const Box box{whole.x + gutter, whole.y, whole.width - gutter, whole.height};
    double reach = 30.0;
    for (const DayMark& day : overview.days)
        for (const auto& mean : {day.first, day.later})
            if (mean) reach = std::max(reach, std::min(80.0, std::abs(mean->at.value) + 8.0));
    const auto y = [&](double cents) {
        const double share = 0.5 - 0.5 * std::clamp(cents, -reach, reach) / reach;
        return box.y + box.height * static_cast<float>(share);
    };
    canvas.panel(box);
    for (const double side : {20.0, 0.0, -20.0}) {
        canvas.line(box.x, y(side), box.right(), y(side), side == 0.0 ? canvas.colours.ink : canvas.colours.rule,
                    canvas.unit(side == 0.0 ? 0.25 : 0.15));
        canvas.text(box.x - canvas.unit(1), y(side) - 0.5f * small, signedCents(Cents(side)), TextSize::small,
                    Ink::quiet, gutter - canvas.unit(1), Side::right);
    }
    const float wide =
        std::min(canvas.unit(10), box.width / static_cast<float>(std::max<std::size_t>(overview.days.size(), 1)));
    const float beside = std::min(canvas.unit(1), 0.22f * wide);
    for (std::size_t i = 0; i < overview.days.size(); ++i) {
        const Box column{box.x + static_cast<float>(i) * wide, box.y, wide, box.height};
        const float middle = column.x + 0.5f * wide;
        if (overview.part == Part::days && overview.day == static_cast<int>(i))
            canvas.fill({column.x, box.bottom() - canvas.unit(0.75), wide, canvas.unit(0.75)}, canvas.colours.ink);
        const auto mark = [&](const std::optional<DayMark::Mean>& mean, float x, Shape shape) {
            if (!mean) return;
            canvas.line(x, y((mean->at - mean->doubt).value), x, y((mean->at + mean->doubt).value),
                        canvas.colours.quiet, canvas.unit(0.25));
            canvas.mark(shape, x, y(mean->at.value), canvas.unit(0.6));
        };
        mark(overview.days[i].later, middle + beside, Shape::disc);
        mark(overview.days[i].first, middle - beside, Shape::ring);
        if (canvas.clicked(column)) intents.push_back(pickInProgress(pickedDays + static_cast<int>(i)));
    }
    float x = box.x + canvas.unit(1.5);
    for (const auto& [shape, words] :
         {std::pair{Shape::ring, "a day's first five tries"}, {Shape::disc, "its later ones"}}) {
        canvas.mark(shape, x, box.y + 0.6f * small, canvas.unit(0.6));
        const Box said =
            canvas.text(x + canvas.unit(1.5), box.y + canvas.unit(0.25), words, TextSize::small, Ink::quiet);
        x = said.right() + canvas.unit(3);
    }
    return intents;
}

// The kind of move between arrows where they change it, and how it lands.
Intents drawKind(Canvas& canvas, const Overview& overview, const Box& box) {
    const bool marked = overview.part == Part::kind;
    const float medium = canvas.lineHeight(TextSize::medium);
    if (marked) canvas.fill({box.x - canvas.unit(1.5), box.y, canvas.unit(0.5), medium}, canvas.colours.ink);
    const float room = 0.44f * box.width;
    const Box kind =
        canvas.text(box.x, box.y, marked && !overview.of.empty() ? betweenArrows(overview.kind) : overview.kind,
                    TextSize::medium, Ink::full, room - canvas.unit(8));
    canvas.text(kind.right() + canvas.unit(1.5), box.y + 0.35f * medium, overview.of, TextSize::small, Ink::quiet);
    canvas.text(box.right(), box.y, overview.lean, TextSize::medium, Ink::full, box.width - room - canvas.unit(1),
                Side::right);
    if (const auto arrow = marked ? clickedArrow(canvas, kind, Screen::progress) : std::nullopt) return {*arrow};
    if (canvas.clicked(kind)) return {pickInProgress(-1)};
    return {};
}

Intents drawOverview(Canvas& canvas, const Overview& overview, const Box& body) {
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium),
                pad = canvas.unit(1);
    Intents intents = drawKind(canvas, overview, {body.x, body.y, body.width, medium});
    // From the bottom up: the sittings and the hand's care, then the days beside the figures.
    const float last = body.bottom() - 2.0f * small - pad, top = body.y + medium + pad;
    const float room = last - top - small - 2.0f * pad;
    // Where the days would be too low to be read their words stay.
    const bool folded = 0.53f * room < 9.0f * small;
    const float mapTall = (folded ? std::min(0.62f * room, room - 4.5f * small) : 0.47f * room);
    const auto clicked = drawNeckMap(canvas, overview.neck, overview.map,
                                     overview.part == Part::map ? std::optional(overview.place) : std::nullopt,
                                     {body.x, top + 1.5f * pad, body.width, mapTall - 1.5f * pad});
    if (clicked) intents.push_back(pickInProgress(pickedMap + *clicked));
    const float below = top + mapTall + pad;
    canvas.text(body.x, below, overview.mapWords, TextSize::small, Ink::quiet, body.width);
    const float lower = below + small + pad, tall = last - pad - lower;
    const Box left{body.x, lower, 0.6f * body.width, tall};
    const float figuresAt = left.right() + canvas.unit(3);
    add(intents, drawFigures(canvas, overview, {figuresAt, lower, body.right() - figuresAt, tall}));
    const float words = 3.0f * small;
    if (!folded && !overview.days.empty())
        add(intents, drawDays(canvas, overview, {left.x, left.y, left.width, tall - words - pad}));
    const float said = folded ? left.y : left.bottom() - words;
    canvas.text(left.x, said, overview.daysWords, TextSize::small, Ink::full, left.width);
    canvas.paragraph(left.x, said + small, overview.trend, TextSize::small, Ink::quiet, left.width, 2);
    const Box sittings{body.x - canvas.unit(1.5), last, body.width + canvas.unit(1.5), small};
    if (overview.part == Part::sittings) drawChosen(canvas, sittings);
    canvas.text(body.x, last, overview.sittings, TextSize::small, Ink::full, body.width);
    if (canvas.clicked(sittings)) intents.push_back(pickInProgress(-2));
    canvas.text(body.x, last + small, overview.care, TextSize::small, Ink::quiet, body.width);
    return intents;
}

Intents drawSittings(Canvas& canvas, const ProgressPages& pages, const Box& left) {
    Intents intents;
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium),
                pad = canvas.unit(1);
    const float sittingHeight = medium + small + 2.0f * pad;
    const int sittings = static_cast<int>(pages.sittings.size());
    const Visible shown = visible(sittings, pages.sitting, sittingHeight + pad, left);
    const float room = left.width - canvas.unit(4);
    const auto resultOf = [](const SittingRow& row) { return row.drills + "  ·  " + row.result; };
    const float dates = columnShare(canvas, pages.sittings, TextSize::medium, room,
                                    [](const SittingRow& row) { return std::string_view(row.date); }),
                results = columnShare(canvas, pages.sittings, TextSize::small, room, resultOf);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const SittingRow& sitting = rowAt(pages.sittings, index);
        const Box row{left.x, left.y + static_cast<float>(i) * (sittingHeight + pad), left.width, sittingHeight};
        if (index == pages.sitting) {
            if (pages.selectedTry) canvas.panel(row);
            else drawChosen(canvas, row);
        }
        const float x = row.x + canvas.unit(2);
        canvas.text(x, row.y + pad, sitting.date, TextSize::medium, Ink::full, room, Side::left, dates);
        canvas.text(x, row.y + pad + medium, resultOf(sitting), TextSize::small, Ink::quiet, room, Side::left, results);
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::progress, index});
    }
    drawMore(canvas, shown, sittings, left);
    return intents;
}

Intents drawTries(Canvas& canvas, const ProgressPages& pages, const Box& right) {
    Intents intents;
    const float small = canvas.lineHeight(TextSize::small), pad = canvas.unit(1);
    const float tryHeight = small + pad;
    const int tries = static_cast<int>(pages.tries.size());
    const Visible shownTries = visible(tries, pages.selectedTry.value_or(0), tryHeight, right);
    const auto wordsOf = [](const TryRow& row) { return row.struck ? "dropped (" + row.words + ")" : row.words; };
    const float wide = 0.5f * right.width, moveRoom = wide - canvas.unit(8),
                wordsRoom = right.width - wide - canvas.unit(1);
    const float moves = columnShare(canvas, pages.tries, TextSize::small, moveRoom,
                                    [](const TryRow& row) { return std::string_view(row.move); }),
                words = columnShare(canvas, pages.tries, TextSize::small, wordsRoom, wordsOf);
    for (int i = 0; i < shownTries.count; ++i) {
        const int index = shownTries.first + i;
        const TryRow& attempt = rowAt(pages.tries, index);
        const Box row{right.x, right.y + static_cast<float>(i) * tryHeight, right.width, tryHeight};
        if (index == pages.selectedTry) drawChosen(canvas, row);
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::progress, -1 - index});
        const float y = row.y + 0.5f * pad, x = row.x + canvas.unit(2);
        if (!attempt.struck) canvas.mark(shapeOf(attempt.mark), x + canvas.unit(1), y + 0.4f * small, canvas.unit(0.9));
        canvas.text(x + canvas.unit(4), y, attempt.move, TextSize::small, Ink::quiet, moveRoom, Side::left, moves);
        canvas.text(row.x + wide, y, wordsOf(attempt), TextSize::small, attempt.struck ? Ink::quiet : Ink::full,
                    wordsRoom, Side::left, words);
    }
    drawMore(canvas, shownTries, tries, right);
    return intents;
}

// Its neighbours of the same sitting, and the last ones before.
void drawNeighbours(Canvas& canvas, const ProgressPages& pages, const Box& left) {
    const float small = canvas.lineHeight(TextSize::small), pad = canvas.unit(1);
    const float tall = 0.5f * (left.height - 2.0f * (2.5f * small + pad));
    float y = left.y;
    for (const bool before : {false, true}) {
        const auto& sweep = before ? pages.before : pages.here;
        canvas.text(left.x, y, before ? pages.beforeWords : pages.hereWords, TextSize::small, Ink::full, left.width);
        y += small + pad;
        if (sweep) drawSweep(canvas, *sweep, {left.x, y, left.width, tall});
        y += tall + 1.5f * small;
    }
}

// Nothing is in the log, or it cannot be read.
void drawNoSittings(Canvas& canvas, const std::string& message, const Box& body) {
    if (!message.empty()) {
        canvas.paragraph(body.x, body.y, message, TextSize::medium, Ink::full, body.width, 3);
        return;
    }
    canvas.text(body.x, body.y, "Nothing yet", TextSize::big, Ink::full, body.width);
    canvas.text(body.x, body.y + canvas.lineHeight(TextSize::big),
                "Every try you play is kept here. Press 2 and start a drill.", TextSize::medium, Ink::full, body.width);
}

Intents drawLists(Canvas& canvas, const ProgressPages& pages, const Box& body) {
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium);
    const bool titled = !pages.behind.empty();
    canvas.text(body.x, body.y, pages.message.empty() ? pages.behind : pages.message,
                titled ? TextSize::medium : TextSize::small, Ink::full, body.width);
    const float top = body.y
                      + (titled                  ? medium + canvas.unit(1)
                         : pages.message.empty() ? 0.0f
                                                 : 1.5f * small),
                // as high for each row, so that nothing jumps
        noted = pages.noteOn.empty() ? 0.0f : small + canvas.unit(1), tall = body.bottom() - small - noted - top;
    if (!pages.noted.empty() && !pages.typing)
        canvas.text(body.x, body.bottom() - small, fmt::format("Noted on {}: {}", pages.noteOn, pages.noted),
                    TextSize::small, Ink::full, body.width);
    const bool chosen = pages.selectedTry.has_value();
    const Box left{body.x, top, (chosen ? 0.52f : 0.42f) * body.width, tall};
    Intents intents;
    if (chosen) drawNeighbours(canvas, pages, left);
    else if (!titled) add(intents, drawSittings(canvas, pages, left));
    add(intents, drawTries(canvas, pages,
                           {left.right() + canvas.unit(3), top, body.right() - left.right() - canvas.unit(3), tall}));
    return intents;
}

}  // namespace

void drawOpenedTry(Canvas& canvas, const OpenedTry& opened, const Box& body) {
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium);
    canvas.text(body.x, body.y, opened.title, TextSize::medium, Ink::full, body.width);
    canvas.text(body.x, body.y + medium, opened.sentence, TextSize::medium, Ink::full, body.width);
    canvas.text(body.x, body.y + 2.0f * medium, opened.sound, TextSize::small, Ink::quiet, body.width);
    if (!opened.notes.empty())
        canvas.text(body.x, body.y + 2.0f * medium + small, "Noted: " + opened.notes, TextSize::small, Ink::full,
                    body.width);
    const float noted = opened.notes.empty() ? 0.0f : small;
    const float top = body.y + 2.0f * medium + small + noted + canvas.unit(2), tall = body.bottom() - top;
    // As wide as its words, so that all stand in one size.
    float names = 0.0f, values = 0.0f;
    for (const Quantity& quantity : opened.quantities) {
        names = std::max(names, canvas.textWidth(quantity.name, TextSize::small));
        values = std::max(values, canvas.textWidth(quantity.value, TextSize::small));
    }
    const float gap = canvas.unit(2), least = opened.sweep ? 0.32f : 0.6f;
    const float table = std::clamp(names + gap + values + 1.0f, least * body.width, std::max(least, 0.5f) * body.width);
    // times stand below it
    if (opened.sweep)
        drawSweep(canvas, *opened.sweep, {body.x, top, body.width - table - canvas.unit(4), tall - 1.5f * small});
    const float x = opened.sweep ? body.right() - table : body.x;
    // Those for which there is room: the first ones matter most.
    const std::size_t shown =
        std::min(opened.quantities.size(), static_cast<std::size_t>(std::max(0.0f, tall / small)));
    const float line = std::min(small + canvas.unit(1), tall / static_cast<float>(std::max<std::size_t>(shown, 1)));
    for (std::size_t i = 0; i < shown; ++i) {
        const float y = top + static_cast<float>(i) * line;
        canvas.text(x, y, opened.quantities[i].name, TextSize::small, Ink::quiet, 0.58f * table);
        canvas.text(x + table, y, opened.quantities[i].value, TextSize::small, Ink::full,
                    table - gap - std::min(names, 0.58f * table), Side::right);
    }
}

namespace {

Intents drawProgress(Canvas& canvas, const Snapshot& snapshot) {
    const PageLayout layout = pageLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, layout.header);
    const ProgressPages& pages = snapshot.progress;
    Box body = layout.body;
    if (pages.typing) {
        drawTyping(canvas, "A note on " + pages.noteOn, *pages.typing + "_", noteLines, body);
        body.height -= typingHeight(canvas, noteLines) + canvas.unit(1);
    }
    if (pages.opened) drawOpenedTry(canvas, *pages.opened, body);
    else if (pages.sittings.empty() || (pages.overview && !pages.message.empty()))
        drawNoSittings(canvas, pages.message, body);
    else if (pages.overview) add(intents, drawOverview(canvas, *pages.overview, body));
    else add(intents, drawLists(canvas, pages, body));
    add(intents, drawKeys(canvas, snapshot, layout.keys));
    return intents;
}

Keys progressKeys(const Snapshot& snapshot) {
    const ProgressPages& pages = snapshot.progress;
    Keys keys;
    if (pages.typing) return typingKeys("the note");
    const Key note = press('N', Kind::note, pages.noteOn.empty() ? "" : "a note");
    if (pages.opened) {
        if (pages.opened->canHear) keys.all = {enter("hear it")};
        for (const Key& each : {upAndDown("other tries"), press(key::left, Kind::less, "back"),
                                backspace("drop or restore"), note, press(key::escape, Kind::less)})
            keys.all.push_back(each);
    } else if (pages.sittings.empty()) {
        if (pages.whose.empty()) keys.all = {press(key::escape, Kind::open, "back to practice")};  // as everywhere
    } else if (pages.overview) {
        keys.all = {upAndDown("choose"), leftAndRight(pages.overview->part == Part::kind ? "another kind" : "along it"),
                    enter("its tries"), press('S', Kind::see, "sittings")};
        if (pages.overview->part == Part::sittings)
            keys.all = {upAndDown("choose"), enter("open them"), press('S', Kind::see)};
    } else if (pages.selectedTry) {
        keys.all = {upAndDown("choose"),
                    press(key::left, Kind::less, "back"),
                    enter("open"),
                    backspace("drop or restore"),
                    note,
                    press(key::escape, Kind::less)};
    } else if (!pages.behind.empty()) {
        keys.all = {press(key::left, Kind::less, "back"), press(key::escape, Kind::less)};
    } else {
        keys.all = {upAndDown("choose"),
                    enter("its tries"),
                    note,
                    press(key::left, Kind::less, "back"),
                    press(key::right, Kind::more),
                    press(key::escape, Kind::less)};
    }
    return keys;
}

}  // namespace

extern const ScreenView progressView{.screen = Screen::progress,
                                     .name = "progress",
                                     .title = [](const Snapshot& shown) -> std::string {
                                         return shown.progress.whose.empty() ? "Progress"
                                                                             : "Progress of " + shown.progress.whose;
                                     },
                                     .draw = drawProgress,
                                     .keys = progressKeys};

}  // namespace landfall
