// `landfall open FILE`: takes a teacher's lesson in; without a file it shows the homework, what was done beside what was
// asked.
#include <filesystem>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/app/sitting.h"
#include "src/formats/lesson_file.h"
#include "src/formats/settings_file.h"
#include "src/formats/table.h"
#include "src/review/homework.h"
#include "src/store/lessons.h"
#include "src/store/students.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

// Whose homework it is: the student named, else whoever practises by the settings, who need not have played yet.
Result<Student> whose(Log& log, const std::string& named, bool make) {
    if (!named.empty()) return findStudent(log, named);
    const auto settingsAt = settingsFile();
    if (!settingsAt) return settingsAt.error();
    const auto loaded = loadSettings(*settingsAt);
    if (!loaded) return loaded.error();
    const std::string name = loaded->settings.student.empty() ? "player" : loaded->settings.student;
    const auto known = log.students();
    if (!known) return known.error();
    for (const Student& each : *known)
        if (each.name == name) return each;
    if (make) return log.addStudent(name);
    return Student{{}, name, false};
}

void show(const Homework& lesson) {
    fmt::print("\n{}{}, given on {}{}\n", printable(lesson.title),
               lesson.from.empty() ? "" : " from " + printable(lesson.from), dayText(lesson.received),
               lesson.isDone() ? ": all done" : "");
    if (!lesson.note.empty()) fmt::print("{}\n", printable(lesson.note));
    if (!lesson.problem.empty()) return fmt::print("It cannot be read any more: {}\n", printable(lesson.problem));
    Table table{{"", "asked", "done"}, {}};
    for (const TaskDone& each : lesson.tasks)
        table.rows.push_back({each.asked.name(), askedWords(each), doneWords(each)});
    fmt::print("{}", toColumns(table));
    for (const TaskDone& each : lesson.tasks)
        if (!each.asked.note.empty()) fmt::print("{}: {}\n", printable(each.asked.name()), printable(each.asked.note));
}

int showAll(Log& log, const Student& student, bool json) {
    const auto all = homeworkOf(log, student);
    if (!all) return fail(all.error());
    if (json) {
        fmt::print("{}", toJson({{"homework", homeworkTable(*all)}}));
        return 0;
    }
    if (all->empty()) {
        fmt::print("{} has no homework. `landfall open FILE` takes a lesson in.\n", printable(student.name));
        return 0;
    }
    fmt::print("Homework of {}\n", printable(student.name));
    for (const Homework& each : *all) show(each);
    if (const auto next = nextHomework(*all))
        fmt::print("\nNext: {}. `landfall practise --homework` plays it.\n",
                   printable((*all)[next->lesson].tasks[next->task].asked.name()));
    else fmt::print("\nAll of it is done. `landfall next` says what else is worth playing.\n");
    return 0;
}

}  // namespace

Result<LessonTask> homeworkNext(const std::string& named, const std::string& student) {
    const auto at = logNamed(named);
    if (!at) return at.error();
    auto log = Log::open(*at, Log::Access::read);
    if (!log) return log.error();
    const auto found = whose(*log, student, false);
    if (!found) return found.error();
    auto all = homeworkOf(*log, *found);
    if (!all) return all.error();
    if (const auto next = nextHomework(*all)) return std::move((*all)[next->lesson].tasks[next->task].asked);
    return Error{Error::Code::notFound, all->empty() ? found->name + " has no homework: name a drill"
                                                     : "all homework is done: name a drill, or ask `landfall next`"};
}

int runOpen(const OpenOptions& options) {
    const auto at = logNamed(options.log);
    if (!at) return fail(at.error());
    const bool writes = !options.file.empty() || !options.putAway.empty() || !options.takeOut.empty();
    std::optional<LessonFile> lesson;
    if (!options.file.empty()) {
        auto read = readLessonFile(options.file);
        if (!read) return fail(read.error());
        lesson = std::move(*read);
    }
    std::error_code ignored;
    if (!writes && !std::filesystem::exists(*at, ignored)) {
        fmt::print("There is no homework yet. `landfall open FILE` takes a lesson in.\n");
        return 0;
    }
    auto log = Log::open(*at, writes ? Log::Access::write : Log::Access::read);
    if (!log) return fail(log.error());
    const auto student = whose(*log, options.student, lesson.has_value());
    if (!student) return fail(student.error());
    if (lesson) {
        const KeptLesson kept{lesson->lesson.title, calendarNow(), std::move(lesson->text), false};
        if (const auto done = keepLesson(*log, *student, kept); !done) return fail(done.error());
    }
    const std::string& title = options.putAway.empty() ? options.takeOut : options.putAway;
    if (!title.empty()) {
        const auto done = putAwayLesson(*log, *student, title, !options.putAway.empty());
        if (!done) return fail(done.error());
        if (!*done)
            return fail({Error::Code::notFound,
                         fmt::format("{} was given no lesson '{}': `landfall open` lists them", student->name, title)});
    }
    return showAll(*log, *student, options.json);
}

}  // namespace landfall
