// One student for a lesson: what happened since the last one at the left, what to hear and what was noted at the right.
#include <algorithm>
#include <string>

#include "gui/screen_view.h"
#include "gui/views.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

Intent pickInLesson(int value) { return {Kind::pick, Screen::students, value}; }

// A column that is filled from above; what does not fit any more is left out.
struct Column {
    Canvas& canvas;
    Box rest;

    bool has(float height) const { return rest.height >= height - 0.5f; }
    Box take(float height) {
        const Box taken{rest.x, rest.y, rest.width, height};
        rest.y += height;
        rest.height -= height;
        return taken;
    }
    void gap() { take(canvas.unit(1.5)); }
    void title(const std::string& words) {
        const float small = canvas.lineHeight(TextSize::small);
        if (!has(small)) return;
        const Box line = take(small);
        canvas.text(line.x, line.y, words, TextSize::small, Ink::quiet, line.width);
    }
    void words(const std::string& said, int lines) {
        if (said.empty()) return;
        const float small = canvas.lineHeight(TextSize::small);
        const float tall =
            std::min(static_cast<float>(lines) * small, canvas.paragraphHeight(said, TextSize::small, rest.width));
        if (!has(tall)) return;
        const Box box = take(tall);
        canvas.paragraph(box.x, box.y, said, TextSize::small, Ink::full, box.width, lines);
    }
};

// A title in the quiet ink with one sentence below it.
void drawSaid(Column& column, const char* title, const std::string& words, int lines) {
    if (words.empty()) return;
    column.title(title);
    column.words(words, lines);
    column.gap();
}

Intents drawSittings(Canvas& canvas, const LessonPage& page, const Box& list, int first) {
    Intents intents;
    const float small = canvas.lineHeight(TextSize::small), tall = small + canvas.unit(0.5);
    const int count = static_cast<int>(page.sittings.size());
    const Visible shown = visible(count, std::clamp(page.selected - first, 0, std::max(0, count - 1)), tall, list);
    const float room = list.width - canvas.unit(3), dateRoom = 0.27f * room, resultRoom = 0.71f * room;
    const float dates = columnShare(canvas, page.sittings, TextSize::small, dateRoom,
                                    [](const SittingRow& row) { return std::string_view(row.date); });
    const auto said = [](const SittingRow& row) { return row.drills + "  ·  " + row.result; };
    const float results = columnShare(canvas, page.sittings, TextSize::small, resultRoom, said);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const SittingRow& sitting = rowAt(page.sittings, index);
        const Box row{list.x, list.y + static_cast<float>(i) * tall, list.width, tall};
        if (page.selected == first + index) drawChosen(canvas, row);
        const float x = row.x + canvas.unit(2), y = row.y + canvas.unit(0.25);
        canvas.text(x, y, sitting.date, TextSize::small, Ink::full, dateRoom, Side::left, dates);
        canvas.text(x + room, y, said(sitting), TextSize::small, Ink::quiet, resultRoom, Side::right, results);
        if (canvas.clicked(row)) intents.push_back(pickInLesson(first + index));
    }
    drawMore(canvas, shown, count, list);
    return intents;
}

// Its curve against the target, which of them it is and how it landed below.
void drawTry(Canvas& canvas, const LessonTry& each, const Box& cell, bool chosen) {
    const float small = canvas.lineHeight(TextSize::small);
    const Box box{cell.x, cell.y, cell.width, cell.height - 2.0f * small};
    const Practice& sweep = each.sweep;
    const SweepScale scale = sweepScale(box, sweep.aim, sweep.steps, sweep.sweepLength);
    canvas.panel(chosen ? cell : box);
    const float top = scale.y(sweep.aim), middle = scale.y(Cents(0.0));
    drawAim(canvas, {box.x, top, box.width, scale.y(-sweep.aim) - top});
    canvas.line(box.x, middle, box.right(), middle, canvas.colours.quiet, canvas.unit(0.25));
    if (sweep.steps.front().start)
        canvas.dashes(box.x, box.x + 0.3f * box.width, scale.y(*sweep.steps.front().start), canvas.colours.quiet);
    for (const Trace& trace : sweep.traces) drawTrace(canvas, scale, trace, true, 1.0f);
    canvas.text(box.x + canvas.unit(0.5), box.bottom(), each.which, TextSize::small, Ink::quiet, box.width);
    canvas.text(box.x + canvas.unit(0.5), box.bottom() + small, each.words, TextSize::small, Ink::full,
                box.width - canvas.unit(1));
    if (chosen) canvas.fill({cell.x, cell.bottom(), cell.width, canvas.unit(0.5)}, canvas.colours.ink);
}

Intents drawTries(Canvas& canvas, const LessonPage& page, const Box& box, int first) {
    Intents intents;
    const float gap = canvas.unit(1.5), wide = (box.width - 2.0f * gap) / 3.0f;
    for (std::size_t i = 0; i < page.tries.size(); ++i) {
        const Box cell{box.x + static_cast<float>(i) * (wide + gap), box.y, wide, box.height};
        const int index = first + static_cast<int>(i);
        drawTry(canvas, page.tries[i], cell, page.selected == index);
        if (canvas.clicked(cell)) intents.push_back(pickInLesson(index));
    }
    return intents;
}

// What it is on, and below it the whole of its words.
Intents drawNotes(Canvas& canvas, const LessonPage& page, const Box& list, int firstIndex) {
    Intents intents;
    const float small = canvas.lineHeight(TextSize::small), room = list.width - canvas.unit(3);
    const int count = static_cast<int>(page.notes.size());
    const auto wordsHigh = [&](int index) {
        return std::min(3.0f * small, canvas.paragraphHeight(rowAt(page.notes, index).text, TextSize::small, room));
    };
    const auto high = [&](int index) { return small + wordsHigh(index) + canvas.unit(1.5); };
    // From the first one on with which the chosen one still fits.
    Visible shown;
    const int chosen = page.selected - firstIndex;
    float above = 0.0f;
    for (int i = 0; i <= std::min(chosen, count - 1); ++i)
        for (above += high(i); above > list.height && shown.first < i; ++shown.first) above -= high(shown.first);
    float y = list.y;
    for (int i = shown.first; i < count && y + high(i) <= list.bottom() + 0.5f; ++i, ++shown.count) {
        const NoteRow& note = rowAt(page.notes, i);
        const Box row{list.x, y, list.width, high(i) - canvas.unit(1)};
        if (chosen == i) drawChosen(canvas, row);
        const float x = row.x + canvas.unit(2);
        canvas.text(x, row.y, note.of, TextSize::small, Ink::quiet, room);
        canvas.paragraph(x, row.y + small, note.text, TextSize::small, Ink::full, room, 3);
        if (canvas.clicked(row)) intents.push_back(pickInLesson(firstIndex + i));
        y += high(i);
    }
    drawMore(canvas, shown, count, list);
    return intents;
}

void drawHomework(Column& column, const LessonPage& page) {
    Canvas& canvas = column.canvas;
    const float small = canvas.lineHeight(TextSize::small);
    column.title(page.homeworkOf.empty() ? "Homework: none was given" : "Homework: " + page.homeworkOf);
    for (std::size_t i = 0; i < page.homework.size(); ++i) {
        const TodayRow& task = page.homework[i];
        const bool last = !column.has(2.0f * small) && i + 1 < page.homework.size();
        if (!column.has(small)) return;
        const Box line = column.take(small);
        if (last) {
            canvas.text(line.x, line.y, std::to_string(page.homework.size() - i) + " more", TextSize::small,
                        Ink::quiet);
            return;
        }
        if (task.over) canvas.mark(Shape::inside, line.x + canvas.unit(1), line.y + 0.5f * small, canvas.unit(0.7));
        const float x = line.x + canvas.unit(3), room = line.right() - x;
        canvas.text(x, line.y, task.name + ": " + task.asked, TextSize::small, Ink::full, 0.56f * room);
        canvas.text(line.right(), line.y, task.done, TextSize::small, Ink::full, 0.42f * room, Side::right);
    }
}

// As many as leave room for the homework.
Intents drawSittings(Column& column, const LessonPage& page) {
    const float small = column.canvas.lineHeight(TextSize::small), row = small + column.canvas.unit(0.5);
    const float homework = static_cast<float>(1 + std::min<std::size_t>(page.homework.size(), 4)) * small;
    if (page.sittings.empty() || !column.has(homework + 3.0f * row)) return {};
    const float rows = std::min(static_cast<float>(page.sittings.size()),
                                std::floor((column.rest.height - homework - 2.0f * small) / row));
    column.title("Sittings");
    Intents intents = drawSittings(column.canvas, page, column.take(std::max(1.0f, rows) * row + 1.0f), 1);
    column.take(small);
    return intents;
}

Intents drawLeft(Canvas& canvas, const LessonPage& page, const Box& box) {
    Intents intents;
    Column column{canvas, box};
    // Where not all of it has room, what is being chosen comes first.
    const bool chosenFirst = page.selected >= 1 && page.selected <= static_cast<int>(page.sittings.size())
                             && box.height < 16.0f * canvas.lineHeight(TextSize::small);
    if (chosenFirst) intents = drawSittings(column, page);
    drawSaid(column, "Lands best", page.best, 2);
    drawSaid(column, "To mend", page.fault, 2);
    drawSaid(column, "What changed", page.changed, 3);
    if (!chosenFirst) intents = drawSittings(column, page);
    drawHomework(column, page);
    return intents;
}

Intents drawRight(Canvas& canvas, const LessonPage& page, const Box& box) {
    Intents intents;
    Column column{canvas, box};
    const int sittings = static_cast<int>(page.sittings.size()), tries = static_cast<int>(page.tries.size());
    if (!page.tries.empty()) {
        column.title(page.triesOf);
        column.take(canvas.unit(0.5));
        add(intents, drawTries(canvas, page, column.take(0.42f * box.height), 1 + sittings));
        column.gap();
    }
    column.title(page.notes.empty() ? "Notes: none yet" : "Notes");
    const float small = canvas.lineHeight(TextSize::small);
    add(intents, drawNotes(canvas, page,
                           {column.rest.x, column.rest.y + canvas.unit(0.5), column.rest.width,
                            std::max(0.0f, column.rest.height - small)},
                           1 + sittings + tries));
    return intents;
}

}  // namespace

float typingHeight(const Canvas& canvas, int lines) {
    return canvas.lineHeight(TextSize::small) + static_cast<float>(lines) * canvas.lineHeight(TextSize::medium)
           + canvas.unit(2);
}

void drawTyping(Canvas& canvas, const std::string& title, const std::string& typed, int lines, const Box& body) {
    const float tall = typingHeight(canvas, lines), small = canvas.lineHeight(TextSize::small);
    const Box box{body.x, body.bottom() - tall, body.width, tall};
    const float x = box.x + canvas.unit(2), room = box.width - canvas.unit(4);
    canvas.fill({box.x, box.y, canvas.unit(0.5), box.height}, canvas.colours.ink);
    canvas.text(x, box.y + canvas.unit(1), title, TextSize::small, Ink::quiet, room);
    canvas.paragraph(x, box.y + canvas.unit(1) + small, typed, TextSize::medium, Ink::full, room, lines);
}

Intents drawLesson(Canvas& canvas, const LessonPage& page, const Box& body) {
    Intents intents;
    const float small = canvas.lineHeight(TextSize::small), medium = canvas.lineHeight(TextSize::medium);
    const float typed = page.typing ? typingHeight(canvas, noteLines) + canvas.unit(1) : 0.0f;
    if (page.opened) drawOpenedTry(canvas, *page.opened, {body.x, body.y, body.width, body.height - typed});
    else {
        const Box head{body.x - canvas.unit(1.5), body.y, body.width + canvas.unit(1.5), medium};
        if (page.selected == 0 && page.message.empty()) drawChosen(canvas, head);
        const std::string& line = page.message.empty() ? page.since : page.message;
        canvas.text(body.x, body.y, line, TextSize::medium, Ink::full, body.width);
        if (canvas.clicked(head)) intents.push_back(pickInLesson(0));
        canvas.text(body.x, body.y + medium, page.practised, TextSize::small, Ink::quiet, body.width);
        const float top = body.y + medium + small + canvas.unit(2), gap = canvas.unit(4),
                    wide = 0.5f * (body.width - gap), tall = body.bottom() - typed - top;
        if (!page.since.empty()) {
            add(intents, drawLeft(canvas, page, {body.x, top, wide, tall}));
            add(intents, drawRight(canvas, page, {body.x + wide + gap, top, wide, tall}));
        }
    }
    if (page.typing) drawTyping(canvas, "A note on " + page.about, *page.typing + "_", noteLines, body);
    return intents;
}

Keys typingKeys(const std::string& what) {
    return {.all = {{.shown = "type", .does = what, .presses = {}},
                    press(key::enter, Kind::choose, "keep"),
                    press(key::escape, Kind::decline, "leave"),
                    press(key::backspace, Kind::erase)},
            .others = Keys::Others::typed};
}

Keys lessonKeys(const LessonPage& page) {
    if (page.typing) return typingKeys("the note");
    const Key note = press('N', Kind::note, "a note on " + page.about);
    if (page.opened) {
        Keys keys;
        if (page.opened->canHear) keys.all = {enter("hear it")};
        for (const Key& each :
             {upAndDown("the others"), press(key::left, Kind::less, "back"), note, press(key::escape, Kind::less)})
            keys.all.push_back(each);
        return keys;
    }
    const int firstTry = 1 + static_cast<int>(page.sittings.size()),
              firstNote = firstTry + static_cast<int>(page.tries.size());
    const char* does = page.selected >= firstNote ? "change it" : page.selected >= firstTry ? "open" : "";
    return {.all = {upAndDown("choose"), enter(does), note, press('P', Kind::see, "their progress"),
                    press(key::escape, Kind::less, "students"), press(key::left, Kind::less)}};
}

}  // namespace landfall
