#include <string>

#include "gui/screen_view.h"
#include "gui/views.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

// Who, and when they played; what lands worst; what to ask about.
Intents drawRows(Canvas& canvas, const StudentList& students, const Box& list) {
    Intents intents;
    const float medium = canvas.lineHeight(TextSize::medium), small = canvas.lineHeight(TextSize::small),
                pad = canvas.unit(1), height = medium + 2.0f * small + 2.0f * pad;
    const int count = static_cast<int>(students.rows.size());
    const Visible shown = visible(count, students.selected, height + pad, list);
    const float left = list.x + canvas.unit(2), room = list.width - canvas.unit(4), nameRoom = 0.5f * room,
                lastRoom = room - nameRoom - canvas.unit(2);
    const auto share = [&](TextSize type, float wide, std::string StudentRow::*column) {
        return columnShare(canvas, students.rows, type, wide,
                           [column](const StudentRow& row) { return std::string_view(row.*column); });
    };
    const float names = share(TextSize::medium, nameRoom, &StudentRow::name),
                lasts = share(TextSize::small, lastRoom, &StudentRow::last),
                worsts = share(TextSize::small, room, &StudentRow::worst),
                asks = share(TextSize::small, room, &StudentRow::ask);
    for (int i = 0; i < shown.count; ++i) {
        const int index = shown.first + i;
        const StudentRow& student = rowAt(students.rows, index);
        const Box row{list.x, list.y + static_cast<float>(i) * (height + pad), list.width, height};
        if (index == students.selected) drawChosen(canvas, row);
        const float y = row.y + pad;
        canvas.text(left, y, student.name, TextSize::medium, Ink::full, nameRoom, Side::left, names);
        canvas.text(left + room, y + 0.3f * medium, student.last, TextSize::small, Ink::quiet, lastRoom, Side::right,
                    lasts);
        canvas.text(left, y + medium, capitalised(student.worst), TextSize::small, Ink::full, room, Side::left, worsts);
        canvas.text(left, y + medium + small, student.ask, TextSize::small, Ink::quiet, room, Side::left, asks);
        if (canvas.clicked(row)) intents.push_back({Kind::pick, Screen::students, index});
    }
    drawMore(canvas, shown, count, list);
    return intents;
}

Intents drawStudents(Canvas& canvas, const Snapshot& snapshot) {
    const PageLayout layout = pageLayout(canvas);
    Intents intents = drawHeader(canvas, snapshot, layout.header);
    const StudentList& students = snapshot.students;
    if (students.lesson) {
        add(intents, drawLesson(canvas, *students.lesson, layout.body));
        add(intents, drawKeys(canvas, snapshot, layout.keys));
        return intents;
    }
    const float small = canvas.lineHeight(TextSize::small);
    Box list{layout.body.x, layout.body.y, layout.body.width, layout.body.height - small};
    if (!students.question.empty()) {
        list.height -= typingHeight(canvas, 2) + canvas.unit(1);
        drawTyping(canvas,
                   students.typing ? students.question
                   : students.sure ? "Are you sure?"
                                   : "Two students who are one",
                   !students.message.empty() ? students.message
                   : students.typing         ? *students.typing + "_"
                                             : students.question,
                   2, layout.body);
        add(intents, drawRows(canvas, students, list));
    } else if (!students.message.empty() || students.rows.empty())
        canvas.paragraph(
            list.x, list.y,
            students.message.empty() ? "Nobody has played yet: who does is listed here." : students.message,
            TextSize::medium, Ink::full, list.width, 3);
    else add(intents, drawRows(canvas, students, list));
    add(intents, drawKeys(canvas, snapshot, layout.keys));
    return intents;
}

Keys studentsKeys(const Snapshot& snapshot) {
    const StudentList& students = snapshot.students;
    if (students.lesson) return lessonKeys(*students.lesson);
    if (students.rows.empty()) return {.all = {press(key::escape, Kind::open, "back to practice")}};
    if (students.typing)
        return {.all = {{.shown = "type", .does = "the name", .presses = {}},
                        press(key::enter, Kind::choose, students.sure ? "delete for ever" : "keep"),
                        press(key::escape, Kind::decline, "leave"),
                        press(key::backspace, Kind::erase)},
                .others = Keys::Others::typed};
    if (students.sure)
        return {.all = {press('Y', Kind::choose, "yes, do it"), press(key::escape, Kind::decline, "leave")}};
    if (!students.question.empty())
        return {.all = {upAndDown("choose"), enter("this one"), press(key::escape, Kind::decline, "leave")}};
    return {.all = {upAndDown("choose"), enter("open"), press('R', Kind::rename, "rename"),
                    press('M', Kind::merge, students.rows.size() > 1 ? "merge" : ""),
                    press('A', Kind::archive, students.archived ? "bring back" : "archive"),
                    press('D', Kind::remove, "delete")}};
}

}  // namespace

extern const ScreenView studentsView{.screen = Screen::students,
                                     .name = "students",
                                     .title = [](const Snapshot& shown) -> std::string {
                                         return shown.students.lesson ? shown.students.lesson->student : "My students";
                                     },
                                     .draw = drawStudents,
                                     .keys = studentsKeys};

}  // namespace landfall
