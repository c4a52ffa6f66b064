// `landfall report`: what a student's log says, as a page to read, print or send, or as figures; `landfall next`: what
// it says to play next.
#include <chrono>
#include <ctime>
#include <filesystem>

#include <fmt/core.h>

#include "src/app/commands.h"
#include "src/formats/drill_file.h"
#include "src/formats/settings_file.h"
#include "src/formats/table.h"
#include "src/practice/words.h"
#include "src/review/homework.h"
#include "src/review/report_page.h"
#include "src/store/log.h"
#include "src/store/students.h"
#include "src/system/printable.h"
#include "src/system/replace_file.h"

namespace landfall {

Result<CalendarTime> dayNamed(const std::string& text) {
    const Error unknown{Error::Code::badInput,
                        fmt::format("'{}' is not a date: write year, month and day, such as 2027-03-01", text)};
    int year = 0, month = 0, day = 0, length = 0;
    if (std::sscanf(text.c_str(), "%4d-%2d-%2d%n", &year, &month, &day, &length) != 3
        || static_cast<std::size_t>(length) != text.size())
        return unknown;
    const std::chrono::year_month_day date(std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)),
                                           std::chrono::day(static_cast<unsigned>(day)));
    if (!date.ok() || year < 1970) return unknown;
    std::tm local{};
    local.tm_year = year - 1900;
    local.tm_mon = month - 1;
    local.tm_mday = day;
    local.tm_isdst = -1;
    return CalendarTime(std::chrono::seconds(std::mktime(&local)));
}

namespace {

int write(const std::string& file, const std::string& text) {
    if (file.empty()) {
        fmt::print("{}", text);
        return 0;
    }
    if (const auto written = replaceFile(file, text); !written) return fail(written.error());
    std::error_code ignored;  // a student's practice is nobody else's
    std::filesystem::permissions(file, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write,
                                 ignored);
    fmt::print("The report is in {}.\n", printable(file));
    return 0;
}

int printFile(const TaskDone& task) {
    const Drill* drill = std::get_if<Drill>(&task.asked.what);
    if (!drill)
        return fail({Error::Code::notFound,
                     fmt::format("the homework that comes first is the phrase '{}', no drill: `landfall practise "
                                 "--homework` plays it",
                                 task.asked.name())});
    fmt::print("{}", drillAsToml(*drill));
    return 0;
}

}  // namespace

std::string isDay(const std::string& text) {
    const auto day = dayNamed(text);
    return day ? "" : day.error().message;
}

int runReport(const ReportOptions& options) {
    if (options.output.empty() && !options.csv && !options.json)
        return wrongUsage({Error::Code::badInput, "say where the report goes: -o FILE.html (or --csv, --json)"});
    const auto file = logNamed(options.log);
    if (!file) return fail(file.error());
    std::optional<CalendarTime> since;
    if (!options.since.empty()) since = *dayNamed(options.since);
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return fail(log.error());
    const auto student = findStudent(*log, options.student);
    if (!student) return fail(student.error());
    const auto found = review(*log, *student, since);
    if (!found) return fail(found.error());
    if (options.csv) return write(options.output, reportAsCsv(*found));
    if (options.json) return write(options.output, reportAsJson(*found));
    return write(options.output, reportPage(*found, calendarNow()));
}

int runNext(const NextOptions& options) {
    const auto settingsAt = settingsFile();
    if (!settingsAt) return fail(settingsAt.error());
    const auto loaded = loadSettings(*settingsAt);
    if (!loaded) return fail(loaded.error());
    const Guitar& guitar = loaded->settings.guitar;
    const auto file = logNamed(options.log);
    if (!file) return fail(file.error());
    auto log = Log::open(*file, Log::Access::read);
    if (!log) return fail(log.error());
    const auto student = findStudent(*log, options.student);
    if (!student) return fail(student.error());
    const auto homework = homeworkOf(*log, *student);
    if (!homework) return fail(homework.error());
    const auto first = nextHomework(*homework);
    const TaskDone* task = first ? &(*homework)[first->lesson].tasks[first->task] : nullptr;
    if (task != nullptr && options.file) return printFile(*task);
    if (task != nullptr && !options.json)
        fmt::print("Homework first: {}{} (asked: {}; {}). `landfall practise --homework` plays it.\n",
                   printable(task->asked.name()),
                   (*homework)[first->lesson].from.empty() ? "" : ", for " + printable((*homework)[first->lesson].from),
                   askedWords(*task), doneWords(*task));
    const auto found = nextFor(*log, *student, guitar, calendarNow());
    if (!found) return fail(found.error());
    if (!*found)
        return fail({Error::Code::notFound,
                     "on this guitar there is no bend that is light enough to be asked for: choose a drill yourself"});
    const NextPlace& next = **found;
    if (options.file) fmt::print("{}", drillAsToml(drillOf(next, guitar)));
    else if (options.json) {
        const char* const whys[] = {"probe", "leans", "unsure", "wide", "review", "untried"};
        const Table table{
            {"student", "why", "kind", "string", "fret", "tries", "probe", "probes", "reason"},
            {{student->name, std::string(whys[static_cast<std::size_t>(next.why)]), nameOf(next.at.kind),
              std::int64_t{next.at.place.string}, std::int64_t{next.at.place.fret}, std::int64_t{next.tries},
              std::int64_t{next.probe}, std::int64_t{next.probes}, next.reason}}};
        Table asked = homeworkTable(*homework);
        std::erase_if(asked.rows,
                      [&](const auto& row) { return task == nullptr || row[3] != Cell(task->asked.name()); });
        fmt::print("{}", toJson({{"homework", asked}, {"next", table, true}}));
    } else
        fmt::print(
            "{}\nPlay: {}, {}; {}, then ask again (`landfall next {} --file > next.toml`, `landfall practise "
            "next.toml`). You may always choose yourself.\n",
            next.reason, placeName(guitar, next.at.place), nameOf(next.at.kind), counted(next.tries, "try", "tries"),
            printable(options.student));
    return 0;
}

}  // namespace landfall
