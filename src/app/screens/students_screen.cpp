#include "src/app/screens/students_screen.h"

#include <algorithm>

#include <fmt/core.h>

namespace landfall {

namespace {

std::string agoWords(CalendarTime time, CalendarTime now) {
    const std::string day = localText(time).substr(0, 10);
    if (day == localText(now).substr(0, 10)) return "today";
    if (day == localText(now - std::chrono::hours(24)).substr(0, 10)) return "yesterday";
    return fmt::format("{} days ago", std::max<long>(2, std::chrono::round<std::chrono::days>(now - time).count()));
}

}  // namespace

void StudentsScreen::reading() {
    message = "Reading the log ...";
    refresh();
}

void StudentsScreen::say(std::string words) {
    message = std::move(words);
    refresh();
}

void StudentsScreen::setStudents(std::vector<StudentEntry> entries) {
    message.clear();
    std::vector<Row> read;
    for (StudentEntry& entry : entries) {
        if (entry.student.archived) continue;
        const auto known =
            std::ranges::find(rows, entry.student.uuid, [](const Row& row) { return row.entry.student.uuid; });
        read.push_back({std::move(entry), known != rows.end() ? std::move(known->glance) : std::nullopt});
    }
    rows = std::move(read);
    refresh();
}

std::optional<Student> StudentsScreen::toRead() {
    const auto next = std::ranges::find(rows, false, &Row::asked);
    if (next == rows.end()) return {};
    next->asked = true;
    return next->entry.student;
}

void StudentsScreen::setGlance(Glance glance) {
    const auto at = std::ranges::find(rows, glance.student.uuid, [](const Row& row) { return row.entry.student.uuid; });
    if (at == rows.end()) return;
    at->glance = std::move(glance);
    if (std::ranges::all_of(rows, &Row::asked)) {
        const std::string here = rows[static_cast<std::size_t>(selected)].entry.student.uuid;
        std::ranges::stable_sort(rows, std::greater{},
                                 [](const Row& row) { return row.glance ? row.glance->need : 0.0; });
        if (selected != 0)
            for (std::size_t i = 0; i < rows.size(); ++i)
                if (rows[i].entry.student.uuid == here) selected = static_cast<int>(i);
    }
    refresh();
}

Wish StudentsScreen::act(const Intent& intent) {
    using Kind = Intent::Kind;
    Wish wish;
    if (open) {
        wish = open->act(intent);
        if (open->isLeft()) open.reset();
        refresh();
        return wish;
    }
    const int last = std::max(0, static_cast<int>(rows.size()) - 1);
    const int before = selected;
    if (intent.kind == Kind::previous) selected = std::max(0, selected - 1);
    if (intent.kind == Kind::following) selected = std::min(last, selected + 1);
    if (intent.kind == Kind::pick) selected = std::clamp(intent.value, 0, last);
    const bool again = intent.kind == Kind::pick && selected == before;
    if ((intent.kind == Kind::choose || again) && !rows.empty()) {
        wish.lessonOf = rows[static_cast<std::size_t>(selected)].entry.student;
        open.emplace(*wish.lessonOf);
    }
    refresh();
    return wish;
}

void StudentsScreen::setLesson(const Student& of, Result<LessonReview> read) {
    if (open && open->student().uuid == of.uuid) open->set(std::move(read));
    refresh();
}

void StudentsScreen::setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take) {
    if (open) open->setTake(sittingId, number, take);
    refresh();
}

void StudentsScreen::sayOfLesson(std::string words) {
    if (open) open->say(std::move(words));
    refresh();
}

Wish StudentsScreen::leave() {
    Wish wish;
    if (open && open->view().opened) wish = open->act({Intent::Kind::less, Screen::students, 0});
    open.reset();
    refresh();
    return wish;
}

void StudentsScreen::played() {
    if (open) open->played();
    refresh();
}

void StudentsScreen::cannotPlay() {
    if (open) open->cannotPlay();
    refresh();
}

void StudentsScreen::refresh() {
    const CalendarTime now = calendarNow();
    shown.message = message;
    shown.lesson = open ? std::optional(open->view()) : std::nullopt;
    shown.rows.clear();
    for (const Row& row : rows) {
        const auto& [student, sittings, last] = row.entry;
        StudentRow& to = shown.rows.emplace_back();
        to.name = student.name;
        to.last = last ? fmt::format("last played {}", agoWords(*last, now)) : "has not played yet";
        if (row.glance && row.glance->lately > 0)
            to.last += fmt::format(" · {} of the last 14 days", row.glance->lately);
        if (row.glance && !row.glance->homework.empty()) to.last += " · " + row.glance->homework;
        to.worst = row.glance ? row.glance->worst : "Reading ...";
        if (row.glance) to.ask = row.glance->ask;
    }
    selected = std::clamp(selected, 0, std::max(0, static_cast<int>(rows.size()) - 1));
    shown.selected = selected;
}

}  // namespace landfall
