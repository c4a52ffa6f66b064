#include "src/store/lessons.h"

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "src/store/exchange.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

constexpr CalendarTime monday{std::chrono::milliseconds(1'804'000'000'000)};
constexpr auto day = std::chrono::hours(24);

std::string sqliteShell(const std::filesystem::path& file, const std::string& sql) {
    return runCommand(fmt::format("sqlite3 '{}' \"{}\" 2>&1", file.string(), sql)).output;
}

Log openToWrite(const TestFolder& folder) {
    auto made = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE_MESSAGE(made, made.error().message);
    return std::move(*made);
}

std::vector<KeptLesson> keptOf(Log& log, const Student& student) {
    auto kept = keptLessons(log, student);
    REQUIRE_MESSAGE(kept, kept.error().message);
    return *kept;
}

Student played(Log& log, const std::string& name) {
    Sitting sitting = inventedSitting(name);
    sitting.guitar = Guitar{};
    LoggedTry one = inventedTry(1, 1);
    one.takeFile.clear();
    REQUIRE(log.put(sitting, one));
    auto found = findStudent(log, name);
    REQUIRE(found);
    return *found;
}

}  // namespace

TEST_CASE("a lesson is kept with its student; of one title the last one counts, and the same file twice is one") {
    const TestFolder folder;
    Log log = openToWrite(folder);
    const auto ines = log.addStudent("Ines"), tobi = log.addStudent("Tobi");
    REQUIRE(keepLesson(log, *ines, {"Week 3", monday, "a = 'it''s \"3\"'\n", false}));
    REQUIRE(keepLesson(log, *ines, {"Week 4", monday + 7 * day, "b", false}));
    CHECK(keptOf(log, *tobi).empty());
    REQUIRE(keptOf(log, *ines).size() == 2);
    CHECK(keptOf(log, *ines)[0].title == "Week 4");
    CHECK(keptOf(log, *ines)[1].content == "a = 'it''s \"3\"'\n");
    REQUIRE(keepLesson(log, *ines, {"Week 4", monday + 9 * day, "b", false}));
    CHECK(keptOf(log, *ines)[0].received == monday + 7 * day);
    REQUIRE(keepLesson(log, *ines, {"Week 4", monday + 9 * day, "other goals", false}));
    REQUIRE(keptOf(log, *ines).size() == 2);
    CHECK(keptOf(log, *ines)[0].received == monday + 9 * day);
    CHECK(keptOf(log, *ines)[0].content == "other goals");
    CHECK_FALSE(*putAwayLesson(log, *ines, "Week 5", true));
    CHECK(*putAwayLesson(log, *ines, "Week 4", true));
    CHECK(keptOf(log, *ines)[0].putAway);
    CHECK_FALSE(keepLesson(log, Student{"nobody", "Noor", false}, {"Week 3", monday, "a", false}));
}

TEST_CASE("what was played for a drill since then is read, and neither others nor what was dropped") {
    const TestFolder folder;
    Log log = openToWrite(folder);
    Sitting sitting = inventedSitting();
    sitting.started = monday;
    for (int number = 1; number <= 6; ++number) {
        LoggedTry one = inventedTry(1, number);
        one.at = monday + std::chrono::minutes(number);
        one.drill = number == 6 ? "Whole up" : "Half up";
        one.struck = number == 4;
        REQUIRE(log.put(sitting, one));
    }
    const auto student = findStudent(log, "Ines");
    const auto found = log.triesOfDrill(*student, "Half up", monday + std::chrono::minutes(2));
    REQUIRE(found);
    REQUIRE(found->size() == 3);
    CHECK((*found)[0].oneTry.number == 2);
    CHECK((*found)[2].oneTry.number == 5);
    CHECK(log.triesOfDrill(*student, "Half up", monday + day)->empty());
}

TEST_CASE("a student's lessons go with the student: merged, deleted to the last byte") {
    const TestFolder folder;
    Log log = openToWrite(folder);
    const Student toby = played(log, "Toby"), tobi = played(log, "Tobi");
    REQUIRE(keepLesson(log, toby, {"Week 3", monday + day, "newer of both", false}));
    REQUIRE(keepLesson(log, tobi, {"Week 3", monday, "older of both", false}));
    REQUIRE(keepLesson(log, toby, {"Week 4", monday, "one's alone: SECRET-OF-A-LESSON", false}));
    REQUIRE(mergeStudents(log, toby, tobi));
    const auto kept = keptOf(log, tobi);
    REQUIRE(kept.size() == 2);
    CHECK(kept[0].content == "newer of both");
    CHECK(sqliteShell(folder / "log.sqlite", "PRAGMA foreign_key_check; SELECT count(*) FROM lesson") == "2\n");
    REQUIRE(removeStudent(log, tobi)->overwritten);
    CHECK(sqliteShell(folder / "log.sqlite", "SELECT count(*) FROM lesson") == "0\n");
    CHECK(readText(folder / "log.sqlite").find("SECRET-OF-A-LESSON") == std::string::npos);
}

TEST_CASE("lessons travel with a student's file, twice without harm; another of the same title is named and stays") {
    const TestFolder here, there;
    Log log = openToWrite(here), other = openToWrite(there);
    const Student ines = played(log, "Ines");
    REQUIRE(keepLesson(log, ines, {"Week 3", monday, "a", true}));
    REQUIRE(keepLesson(log, ines, {"Week 4", monday + day, "b", false}));
    REQUIRE(exportStudent(log, ines, {}, false, here / "sent"));
    REQUIRE(importFile(other, here / "sent"));
    const auto again = importFile(other, here / "sent");
    REQUIRE(again);
    CHECK(again->conflicts.empty());
    const auto kept = keptOf(other, again->student);
    REQUIRE(kept.size() == 2);
    CHECK(kept[0].content == "b");
    CHECK(kept[1].putAway);
    CHECK(kept[1].received == monday);
    REQUIRE(keepLesson(log, ines, {"Week 4", monday + 2 * day, "c", false}));
    REQUIRE(exportStudent(log, ines, {}, false, here / "later"));
    const auto later = importFile(other, here / "later");
    REQUIRE(later);
    REQUIRE(later->conflicts.size() == 1);
    CHECK(later->conflicts[0].find("the lesson 'Week 4' is another one here") != std::string::npos);
    CHECK(keptOf(other, again->student)[0].content == "b");
}

TEST_CASE("a student's file from before there were lessons is still taken in, a wrong lesson refuses the whole") {
    const TestFolder here, there;
    Log log = openToWrite(here), other = openToWrite(there);
    const Student ines = played(log, "Ines");
    REQUIRE(keepLesson(log, ines, {"Week 3", monday, "a", false}));
    REQUIRE(exportStudent(log, ines, {}, false, here / "sent"));
    for (const char* wrong :
         {"UPDATE lesson SET title = ' '", "UPDATE lesson SET received_ms = -1", "UPDATE lesson SET put_away = 7",
          "UPDATE lesson SET content = hex(zeroblob(600000))", "DROP TABLE lesson"}) {
        CAPTURE(wrong);
        std::filesystem::copy_file(here / "sent", here / "bad", std::filesystem::copy_options::overwrite_existing);
        CHECK(sqliteShell(here / "bad", wrong) == "");
        const auto taken = importFile(other, here / "bad");
        REQUIRE_FALSE(taken);
        CHECK(taken.error().message.find("nothing of it is taken in") != std::string::npos);
        CHECK(other.students()->empty());
    }
    // As version 5 wrote it: without lessons and notes, and without the columns that came later.
    std::string older =
        "ALTER TABLE guitar DROP COLUMN radius_mm; ALTER TABLE guitar DROP COLUMN action_mm; DROP TABLE lesson; DROP "
        "TABLE note; PRAGMA user_version = 5";
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema > 5) older += fmt::format("; ALTER TABLE try DROP COLUMN {}", column.name);
    CHECK(sqliteShell(here / "sent", older) == "");
    const auto taken = importFile(other, here / "sent");
    REQUIRE_MESSAGE(taken, taken.error().message);
    CHECK(taken->newTries == 1);
}
