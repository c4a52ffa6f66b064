#include "src/app/screens/students_screen.h"

#include <algorithm>

#include <fmt/core.h>

#include "src/app/screens/typed_text.h"
#include "src/music/name_match.h"

namespace landfall {

namespace {

std::string agoWords(CalendarTime time, CalendarTime now) {
    const std::string day = dayText(time);
    if (day == dayText(now)) return "today";
    if (day == dayText(now - std::chrono::hours(24))) return "yesterday";
    return fmt::format("{} days ago", std::max<long>(2, std::chrono::round<std::chrono::days>(now - time).count()));
}

}  // namespace

void StudentsScreen::reading(std::string whoPlays) {
    plays = std::move(whoPlays);
    if (rows.empty()) message = "Reading the log ...";
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
        const auto known =
            std::ranges::find(rows, entry.student.uuid, [](const Row& row) { return row.entry.student.uuid; });
        read.push_back({std::move(entry), known != rows.end() ? std::move(known->glance) : std::nullopt});
    }
    rows = std::move(read);
    std::ranges::stable_partition(rows, [](const Row& row) { return !row.entry.student.archived; });
    asking = Asking::nothing;
    refresh();
}

std::optional<Student> StudentsScreen::toRead() {
    const auto next =
        std::ranges::find_if(rows, [](const Row& row) { return !row.asked && !row.entry.student.archived; });
    if (next == rows.end()) return {};
    next->asked = true;
    return next->entry.student;
}

void StudentsScreen::setGlance(Glance glance) {
    const auto at = std::ranges::find(rows, glance.student.uuid, [](const Row& row) { return row.entry.student.uuid; });
    if (at == rows.end()) return;
    at->glance = std::move(glance);
    const auto isRead = [](const Row& row) { return row.asked || row.entry.student.archived; };
    if (asking == Asking::nothing && std::ranges::all_of(rows, isRead)) {
        const std::string here = rows[static_cast<std::size_t>(selected)].entry.student.uuid;
        std::ranges::stable_sort(rows, std::greater{}, [](const Row& row) {
            return row.entry.student.archived ? -1.0 : row.glance ? row.glance->need : 0.0;
        });
        if (selected != 0)
            for (std::size_t i = 0; i < rows.size(); ++i)
                if (rows[i].entry.student.uuid == here) selected = static_cast<int>(i);
    }
    refresh();
}

Wish StudentsScreen::act(const Intent& intent) {
    Wish wish;
    if (open) {
        wish = open->act(intent);
        if (open->isLeft()) open.reset();
        refresh();
        return wish;
    }
    wish = asking == Asking::nothing ? actOnList(intent) : actAsked(intent);
    refresh();
    return wish;
}

void StudentsScreen::move(int by) {
    selected = std::clamp(selected + by, 0, std::max(0, static_cast<int>(rows.size()) - 1));
}

Wish StudentsScreen::actOnList(const Intent& intent) {
    using Kind = Intent::Kind;
    using What = Wish::StudentChange::Kind;
    Wish wish;
    const int before = selected;
    if (!rows.empty()) message.clear();
    if (intent.kind == Kind::previous) move(-1);
    if (intent.kind == Kind::following) move(+1);
    if (intent.kind == Kind::pick) move(intent.value - selected);
    if (rows.empty()) return wish;
    const bool again = intent.kind == Kind::pick && selected == before;
    if (intent.kind == Kind::choose || again) {
        wish.lessonOf = chosen();
        open.emplace(*wish.lessonOf);
    }
    if (intent.kind == Kind::archive)
        wish.change = Wish::StudentChange{chosen().archived ? What::back : What::archive, chosen()};
    if (intent.kind == Kind::rename || (intent.kind == Kind::merge && rows.size() > 1)) {
        asking = intent.kind == Kind::rename ? Asking::name : Asking::into;
        asked = rows[static_cast<std::size_t>(selected)].entry;
        typed = asked.student.name;
    }
    if (intent.kind == Kind::remove) askToDelete();
    return wish;
}

void StudentsScreen::askToDelete() {
    asked = rows[static_cast<std::size_t>(selected)].entry;
    if (asked.student.name == plays)
        message = fmt::format("{} plays now: choose another student in the settings, then delete this one.", plays);
    else asking = Asking::sureToDelete;
}

// A new name; whose what was played is; and whether that is meant.
Wish StudentsScreen::actAsked(const Intent& intent) {
    using Kind = Intent::Kind;
    Wish wish;
    message.clear();
    if (intent.kind == Kind::decline) {
        asking = Asking::nothing;
    } else if (asking == Asking::name) {
        if (intent.kind == Kind::typed) append(typed, static_cast<unsigned>(intent.value), longestStudentName);
        if (intent.kind == Kind::erase) eraseLast(typed);
        if (intent.kind == Kind::choose) return renamed();
    } else if (asking == Asking::into) {
        if (intent.kind == Kind::previous) move(-1);
        if (intent.kind == Kind::following) move(+1);
        if (intent.kind == Kind::pick) move(intent.value - selected);
        if (intent.kind == Kind::choose && chosen().uuid != asked.student.uuid) asking = Asking::sureToMerge;
    } else if (asking == Asking::sureToDelete) {
        if (intent.kind == Kind::choose) asking = Asking::nameToDelete, typed.clear();
    } else if (asking == Asking::nameToDelete) {
        if (intent.kind == Kind::typed) append(typed, static_cast<unsigned>(intent.value), longestStudentName);
        if (intent.kind == Kind::erase) eraseLast(typed);
        if (intent.kind == Kind::choose && trimmed(typed) == asked.student.name) {
            asking = Asking::nothing;
            wish.change = Wish::StudentChange{Wish::StudentChange::Kind::remove, asked.student};
        } else if (intent.kind == Kind::choose) {
            message = fmt::format("That is not {}'s name. Nothing is deleted.", asked.student.name);
        }
    } else if (intent.kind == Kind::choose) {
        asking = Asking::nothing;
        wish.change = Wish::StudentChange{Wish::StudentChange::Kind::merge, asked.student, {}, chosen()};
    }
    return wish;
}

Wish StudentsScreen::renamed() {
    Wish wish;
    const std::string name = trimmed(typed);
    if (matchKey(name).empty()) {
        message = "A name has letters or digits.";
        return wish;
    }
    for (const Row& row : rows)
        if (row.entry.student.uuid != asked.student.uuid && matchKey(row.entry.student.name) == matchKey(name)) {
            message = fmt::format("There is a student {} already: choose another name, or merge the two with M.",
                                  row.entry.student.name);
            return wish;
        }
    asking = Asking::nothing;
    if (name != asked.student.name)
        wish.change = Wish::StudentChange{Wish::StudentChange::Kind::rename, asked.student, name};
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
    asking = Asking::nothing;
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
    refreshQuestion();
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
        to.worst = student.archived ? "Archived" : row.glance ? row.glance->worst : "Reading ...";
        if (row.glance) to.ask = row.glance->ask;
    }
    selected = std::clamp(selected, 0, std::max(0, static_cast<int>(rows.size()) - 1));
    shown.selected = selected;
    shown.archived = !rows.empty() && chosen().archived;
}

void StudentsScreen::refreshQuestion() {
    const bool named = asking == Asking::nameToDelete;
    shown.typing = asking == Asking::name || named ? std::optional(typed) : std::nullopt;
    shown.sure = asking == Asking::sureToMerge || asking == Asking::sureToDelete || named;
    shown.question.clear();
    const std::string& who = asked.student.name;
    if (asking == Asking::name) shown.question = fmt::format("The new name of {}", who);
    if (asking == Asking::into) shown.question = fmt::format("Who is the same student as {}?", who);
    if (asking == Asking::sureToDelete)
        shown.question = fmt::format(
            "All that {} played would be deleted for ever, with curves and kept sounds ({} {}). Copies stay as they "
            "are.",
            who, asked.sittings, asked.sittings == 1 ? "sitting" : "sittings");
    if (named) shown.question = fmt::format("To delete {}, type the name", who);
    if (asking == Asking::sureToMerge)
        shown.question = fmt::format("What {} played is {}'s then ({} {}). This cannot be undone.", who, chosen().name,
                                     asked.sittings, asked.sittings == 1 ? "sitting" : "sittings");
}

}  // namespace landfall
