#include "src/store/log.h"

#include <sys/wait.h>
#include <unistd.h>

#include <csignal>

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/store/totals.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

Result<Log> openToWrite(const std::filesystem::path& file) { return Log::open(file, Log::Access::write, Seconds(0.2)); }
Result<Log> openToRead(const std::filesystem::path& file) { return Log::open(file, Log::Access::read, Seconds(0.2)); }

// Debian's sqlite3 shell: another program's view of the same file.
std::string sqliteShell(const std::filesystem::path& file, const std::string& sql) {
    return runCommand(fmt::format("sqlite3 '{}' \"{}\" 2>&1", file.string(), sql)).output;
}

// A log with `count` tries in one sitting, closed again.
void makeLog(const std::filesystem::path& file, int count, const std::string& student = "Ines") {
    auto log = openToWrite(file);
    REQUIRE_MESSAGE(log, log.error().message);
    const Sitting sitting = inventedSitting(student);
    for (int number = 1; number <= count; ++number) REQUIRE(log->put(sitting, inventedTry(1, number)));
}

// A log as an older program left it.
void olderLog(const std::filesystem::path& file, int schema) {
    REQUIRE(runCommand(fmt::format("sqlite3 '{}' < '{}/testdata/log_schema_{}.sql' 2>&1", file.string(),
                                   LANDFALL_SOURCE_DIR, schema))
                .output
            == "");
}

// The eight tries in it.
void checkOlderTries(Log& log, int schema) {
    const auto tries = log.tries(1);
    REQUIRE_MESSAGE(tries, tries.error().message);
    REQUIRE(tries->size() == 8);
    for (int number = 1; number <= 8; ++number) {
        LoggedTry written = inventedTry(1, number);
        if (schema < 3) written.guess.reset();
        if (schema < 4) {
            written.told.reset();
            written.pass.reset();
            written.targetCents.reset();
            written.level.reset();
        }
        if (schema < 6) written.tempo.reset();
        if (schema < 7) {
            written.askedTempo.reset();
            written.beat.reset();
            written.timing.reset();
            written.stroke.reset();
        }
        written.brightness.reset();
        if (schema < 5) {
            written.landing.move.with.clear();
            written.landing.strings.clear();
            written.landing.beat.reset();
        }
        CHECK(same((*tries)[static_cast<std::size_t>(number - 1)], written));
    }
}

// ", at_ms, drill, ...": the columns of a try behind its number.
std::string allButKey(const std::filesystem::path& file) {
    return sqliteShell(file, "SELECT group_concat(', ' || name, '') FROM pragma_table_info('try') WHERE cid > 1");
}

// Another process opens the log to write, and is killed after so long; how long it lived.
std::chrono::microseconds openAndDie(const std::filesystem::path& file, std::chrono::microseconds after) {
    const auto begin = std::chrono::steady_clock::now();
    const pid_t child = fork();
    if (child == 0) {
        const auto log = Log::open(file, Log::Access::write);
        _exit(log ? 0 : 1);
    }
    if (after.count() >= 0) {
        usleep(static_cast<useconds_t>(after.count()));
        kill(child, SIGKILL);
    }
    waitpid(child, nullptr, 0);
    return std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now() - begin);
}

// One line, names the file, and says what to do.
void checkSentence(const Error& error, const std::string& names, const std::string& remedy) {
    INFO(error.message);
    CHECK(error.message.find('\n') == std::string::npos);
    CHECK(error.message.find(names) != std::string::npos);
    CHECK(error.message.find(remedy) != std::string::npos);
}

}  // namespace

TEST_CASE("every field of 500 random tries is read back as it was measured") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    const Sitting sitting = inventedSitting();
    for (int number = 1; number <= 500; ++number) REQUIRE(log->put(sitting, inventedTry(7, number)));
    const auto back = log->tries(1);
    REQUIRE_MESSAGE(back, back.error().message);
    REQUIRE(back->size() == 500);
    for (int number = 1; number <= 500; ++number) {
        CAPTURE(number);
        CHECK(same((*back)[static_cast<std::size_t>(number - 1)], inventedTry(7, number)));
    }
}

#if defined(__GLIBCXX__) && defined(__x86_64__)
TEST_CASE("the log has a column for every field of a landing") {
    // A field that is added or removed changes the size: then give it a column in logged_try.cpp (with a new schema
    // version), draw and compare it in tests/support/invented_tries.h, and write the new size here. A note's and a try's
    // number are the listener's own: the log counts the tries itself. A string that rang beside is named in the sentence.
    CHECK(sizeof(Landing) == 472);
    CHECK(sizeof(LoggedTry) == 760);
}
#endif

TEST_CASE("a sitting is read back with its student, guitar, time, program and drills") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    const Sitting sitting = inventedSitting("Noor");
    LoggedTry one = inventedTry(1, 1);
    for (const char* drill : {"Whole up", "Half up", "Whole up"}) {
        one.drill = drill;
        REQUIRE(log->put(sitting, one));
        ++one.number;
    }
    const auto back = log->sitting(1);
    REQUIRE(back);
    CHECK(back->sitting.student == "Noor");
    CHECK(back->sitting.token == sitting.token);
    CHECK(back->sitting.started == sitting.started);
    CHECK(back->sitting.software == "0.1.0-test");
    CHECK(back->sitting.guitar.name == sitting.guitar.name);
    CHECK(back->sitting.guitar.openStrings == sitting.guitar.openStrings);
    CHECK(back->sitting.guitar.capo == 2);
    CHECK(back->sitting.guitar.highestFret == 24);
    CHECK(back->sitting.guitar.leftHanded);
    CHECK(back->sitting.guitar.a4 == Hertz(442.3));
    CHECK(back->sitting.guitar.gaugesInch == sitting.guitar.gaugesInch);
    CHECK(back->sitting.guitar.plainStrings == 2);
    CHECK(back->sitting.guitar.scaleMm == 673.1);
    CHECK(back->sitting.input == "simulated");
    CHECK(back->drills == std::vector<std::string>{"Whole up", "Half up"});
}

TEST_CASE("NaN does not stop the log: it is kept as not measured") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    LoggedTry one = inventedTry(1, 1);
    one.landing.landingError = Cents(std::nan(""));
    one.landing.onset = Seconds(std::nan(""));
    const auto put = log->put(inventedSitting(), one);
    REQUIRE_MESSAGE(put, put.error().message);
    const auto back = log->tries(1);
    REQUIRE(back);
    CHECK_FALSE((*back)[0].landing.landingError);
    CHECK(std::isnan((*back)[0].landing.onset.value));
}

TEST_CASE("writing a try again changes nothing but whether it is struck") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    const Sitting sitting = inventedSitting();
    LoggedTry one = inventedTry(3, 1);
    one.struck = false;
    REQUIRE(log->put(sitting, one));
    LoggedTry again = inventedTry(4, 1);
    again.struck = true;
    again.takeFile = one.takeFile;
    REQUIRE(log->put(sitting, again));
    one.struck = true;
    CHECK(same((*log->tries(1))[0], one));
    CHECK(log->sittings()->size() == 1);
}

TEST_CASE("a try is struck and restored by its number, and an unknown one is named") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 3);
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    REQUIRE(log->setStruck(1, 2, true));
    CHECK((*log->tries(1))[1].struck);
    REQUIRE(log->setStruck(1, 2, false));
    CHECK_FALSE((*log->tries(1))[1].struck);
    const auto unknown = log->setStruck(1, 9, true);
    REQUIRE_FALSE(unknown);
    CHECK(unknown.error().code == Error::Code::notFound);
    checkSentence(unknown.error(), "1.9", "landfall log 1");
}

TEST_CASE("the last time is the student's last sitting with that drill before this one") {
    TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    const auto play = [&](const char* student, std::int64_t token, int day, const char* drill, double error) {
        Sitting sitting = inventedSitting();
        sitting.student = student;
        sitting.token = token;
        sitting.started = CalendarTime(std::chrono::hours(24 * day));
        LoggedTry one = inventedTry(1, 1);
        one.drill = drill;
        one.struck = false;
        one.landing.firstStopError = Cents(error);
        REQUIRE(log->put(sitting, one));
    };
    play("Ines", 1, 1, "Half up", -1.0);
    play("Ines", 2, 2, "Half up", -2.0);
    play("Ines", 3, 3, "Whole up", -3.0);
    play("Tobi", 4, 4, "Half up", -4.0);
    const auto last = [&](const char* drill, std::int64_t token) {
        const auto tries = log->lastTime("Ines", drill, token);
        REQUIRE(tries);
        return tries->empty() ? 0.0 : tries->front().landing.firstStopError->value;
    };
    // Before and after the figures of its sittings are kept, and with some that are not.
    for (int kept = 0; kept < 3; ++kept) {
        CAPTURE(kept);
        CHECK(last("Half up", 3) == -2.0);
        CHECK(last("Half up", 2) == -1.0);
        CHECK(last("Whole up", 3) == 0.0);
        CHECK(last("Half", 3) == 0.0);
        CHECK(last("Twelve along", 3) == 0.0);
        if (kept == 0) REQUIRE(log->sittings());
        if (kept == 1) REQUIRE(log->setStruck(1, 1, false));
    }
    play("Ines", 5, 5, "Half up", -5.0);
    CHECK(last("Half up", 3) == -5.0);
}

TEST_CASE("two sittings of one student share the student and the guitar") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 2, "Ines");
    makeLog(folder / "log.sqlite", 2, "Tobi");
    makeLog(folder / "log.sqlite", 2, "Ines");
    auto log = openToRead(folder / "log.sqlite");
    REQUIRE(log);
    REQUIRE(log->students()->size() == 2);
    CHECK(log->students()->front().name == "Ines");
    CHECK(log->students()->back().name == "Tobi");
    CHECK(log->sittings()->size() == 3);
    CHECK(log->sittings("Ines")->size() == 2);
    CHECK(sqliteShell(folder / "log.sqlite", "SELECT count(*) FROM guitar") == "1\n");
}

TEST_CASE("another program finds a sound database in WAL mode that says whose it is") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 10);
    CHECK(sqliteShell(folder / "log.sqlite",
                      "PRAGMA integrity_check; PRAGMA foreign_key_check; PRAGMA journal_mode; SELECT count(*) FROM "
                      "try; PRAGMA user_version")
          == fmt::format("ok\nwal\n10\n{}\n", Log::schemaVersion));
}

TEST_CASE("a log in a folder that is missing is named with the folder") {
    const TestFolder folder;
    for (const auto access : {Log::Access::write, Log::Access::read}) {
        const auto log = Log::open(folder / "nowhere/log.sqlite", access);
        REQUIRE_FALSE(log);
        CHECK(log.error().code == Error::Code::notFound);
        checkSentence(log.error(), (folder / "nowhere").string(), "make it");
    }
}

TEST_CASE("reading a log that does not exist says so and makes none") {
    const TestFolder folder;
    const auto log = openToRead(folder / "log.sqlite");
    REQUIRE_FALSE(log);
    CHECK(log.error().code == Error::Code::notFound);
    CHECK_FALSE(std::filesystem::exists(folder / "log.sqlite"));
}

TEST_CASE("a folder and a device are refused as logs") {
    const TestFolder folder;
    const auto log = openToWrite(folder.path);
    REQUIRE_FALSE(log);
    checkSentence(log.error(), "is a folder", "--log");
    const auto device = openToWrite("/dev/null");
    REQUIRE_FALSE(device);
    checkSentence(device.error(), "/dev/null", "--log");
}

TEST_CASE("a path with everything that a URI trips over is a path") {
    const TestFolder folder;
    makeLog(folder / "log?mode=ro #1 100%20 ü'.sqlite", 1);
    CHECK(std::filesystem::exists(folder / "log?mode=ro #1 100%20 ü'.sqlite"));
}

TEST_CASE("a text file is no log") {
    const TestFolder folder;
    writeText(folder / "log.sqlite", std::string(5000, 'x'));
    for (const auto access : {Log::Access::write, Log::Access::read}) {
        const auto log = Log::open(folder / "log.sqlite", access);
        REQUIRE_FALSE(log);
        CHECK(log.error().code == Error::Code::corrupt);
        checkSentence(log.error(), (folder / "log.sqlite").string(), "move it aside");
    }
    CHECK(readText(folder / "log.sqlite") == std::string(5000, 'x'));
}

TEST_CASE("a log whose header is damaged is named and left as it is") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 50);
    std::string bytes = readText(folder / "log.sqlite");
    for (std::size_t i = 0; i < 100; ++i) bytes[i] = static_cast<char>(i * 37);
    writeText(folder / "log.sqlite", bytes);
    const auto log = openToWrite(folder / "log.sqlite");
    REQUIRE_FALSE(log);
    CHECK(log.error().code == Error::Code::corrupt);
    CHECK(readText(folder / "log.sqlite") == bytes);
}

TEST_CASE("a log that was cut short is found out before anything is written to it") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 200);
    const auto whole = std::filesystem::file_size(folder / "log.sqlite");
    for (const auto part : {whole / 2, whole - 4096, std::uintmax_t{5000}, std::uintmax_t{60}}) {
        CAPTURE(part);
        std::filesystem::copy_file(folder / "log.sqlite", folder / "cut.sqlite",
                                   std::filesystem::copy_options::overwrite_existing);
        std::filesystem::resize_file(folder / "cut.sqlite", part);
        const auto log = openToWrite(folder / "cut.sqlite");
        REQUIRE_FALSE(log);
        CHECK(log.error().code == Error::Code::corrupt);
        checkSentence(log.error(), "cut.sqlite", "move it aside");
    }
}

TEST_CASE("a page damaged in the middle is found out by reading as well as by writing") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 200);
    std::string bytes = readText(folder / "log.sqlite");
    std::fill(bytes.begin() + 4096 * 20, bytes.begin() + 4096 * 28, '\xA5');
    writeText(folder / "log.sqlite", bytes);
    std::filesystem::copy_file(folder / "log.sqlite", folder / "unclean.sqlite");
    // what a program leaves that did not come to close the log
    writeText(folder / "unclean.sqlite-wal", "half a frame");
    const auto log = openToWrite(folder / "unclean.sqlite");
    REQUIRE_FALSE(log);
    CHECK(log.error().code == Error::Code::corrupt);
    auto reader = openToRead(folder / "log.sqlite");
    REQUIRE(reader);
    const auto tries = reader->tries(1);
    REQUIRE_FALSE(tries);
    CHECK(tries.error().code == Error::Code::corrupt);
}

TEST_CASE("the whole log is read through after a kill, not at each start") {
    const TestFolder folder, killed;
    const auto damage = [](const std::filesystem::path& file) {  // which only who reads the whole file can see
        std::string bytes = readText(file);
        std::fill(bytes.begin() + 4096 * 20, bytes.begin() + 4096 * 28, '\xA5');
        writeText(file, bytes);
    };
    makeLog(folder / "log.sqlite", 200);
    {
        auto log = openToWrite(folder / "log.sqlite");
        REQUIRE(log);
        Sitting sitting = inventedSitting();
        sitting.token = 77;
        REQUIRE(log->put(sitting, inventedTry(77, 1)));
        for (const char* end : {"", "-wal"})  // what lies on the disk if the program is killed now
            std::filesystem::copy_file((folder / "log.sqlite").string() + end, (killed / "log.sqlite").string() + end);
    }
    damage(folder / "log.sqlite");
    CHECK(openToWrite(folder / "log.sqlite"));
    damage(killed / "log.sqlite");
    { REQUIRE(openToRead(killed / "log.sqlite")); }  // a look at the log in between changes nothing
    const auto after = openToWrite(killed / "log.sqlite");
    REQUIRE_FALSE(after);
    CHECK(after.error().code == Error::Code::corrupt);
}

TEST_CASE("an empty file becomes a log") {
    const TestFolder folder;
    writeText(folder / "log.sqlite", "");
    const auto read = openToRead(folder / "log.sqlite");
    REQUIRE_FALSE(read);
    CHECK(read.error().message.find("there is no log in") == 0);
    CHECK(std::filesystem::file_size(folder / "log.sqlite") == 0);
    makeLog(folder / "log.sqlite", 1);
    CHECK(openToRead(folder / "log.sqlite")->tries(1)->size() == 1);
}

TEST_CASE("a database of another program is refused and left as it is") {
    const TestFolder folder;
    sqliteShell(folder / "other.sqlite", "CREATE TABLE recipe(name TEXT); INSERT INTO recipe VALUES('soup')");
    const std::string before = readText(folder / "other.sqlite");
    const auto log = openToWrite(folder / "other.sqlite");
    REQUIRE_FALSE(log);
    checkSentence(log.error(), "another program", "--log");
    CHECK(readText(folder / "other.sqlite") == before);
}

TEST_CASE("logs of every older schema are brought forward with everything that is in them") {
    for (const int schema : {1, 2, 3, 4, 5, 6, 7})
        for (const auto access : {Log::Access::write, Log::Access::read}) {
            CAPTURE(schema);
            const TestFolder folder;
            const auto file = folder / "log.sqlite";
            olderLog(file, schema);
            REQUIRE(sqliteShell(file, "PRAGMA user_version") == fmt::format("{}\n", schema));
            auto log = Log::open(file, access);
            REQUIRE_MESSAGE(log, log.error().message);
            CHECK(sqliteShell(file, "PRAGMA user_version; PRAGMA integrity_check; PRAGMA foreign_key_check")
                  == fmt::format("{}\nok\n", Log::schemaVersion));
            checkOlderTries(*log, schema);
            const auto sitting = log->sitting(1);
            REQUIRE(sitting);
            CHECK(sitting->sitting.student == "Ines");
            CHECK(sitting->sitting.studentUuid.size() == 36);
            CHECK(sitting->sitting.guitar.a4 == Hertz(442.3));
            CHECK(sitting->sitting.guitar.gaugesInch.empty() == (schema == 1));  // not known then
            CHECK(sitting->sitting.input == (schema == 1 ? "" : "simulated"));
            if (access == Log::Access::read) continue;
            REQUIRE(log->put(inventedSitting("Tobi"), inventedTry(2, 1)));
            Sitting again = inventedSitting("Ines");
            REQUIRE(log->put(again, inventedTry(3, 1)));
            CHECK(log->sittings()->size() == 3);
            CHECK(log->students()->size() == 2);
            CHECK(sqliteShell(file, "PRAGMA foreign_key_check; SELECT count(*) FROM try; SELECT count(*) FROM guitar")
                  == "10\n2\n");
        }
}

TEST_CASE("a kill while an old log is brought forward loses nothing and doubles nothing") {
    for (const int schema : {1, 2, 3, 4, 5, 6, 7}) {
        CAPTURE(schema);
        const TestFolder folder;
        const auto old = folder / "old.sqlite";
        olderLog(old, schema);
        // larger, so that it takes some milliseconds
        sqliteShell(old, "CREATE TEMP TABLE more AS SELECT * FROM try; "
                         "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 60) "
                         "INSERT INTO sitting SELECT i + 1, i + 1, student, guitar, started_ms, software"
                             + std::string(schema > 1 ? ", input" : "") + (schema > 3 ? ", stiffness" : "") + " FROM sitting, n; "
                         "CREATE TEMP TABLE one AS SELECT * FROM try; "
                         "WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < 61) "
                         "INSERT INTO try SELECT n.i, number" + allButKey(old) + " FROM more, n");
        REQUIRE(sqliteShell(old, "SELECT count(*) FROM try") == "488\n");
        std::filesystem::copy_file(old, folder / "whole.sqlite");
        const auto whole = openAndDie(folder / "whole.sqlite", std::chrono::microseconds(-1));  // left to its end
        int before = 0, after = 0;
        for (int kill = 0; kill < 50; ++kill) {
            const auto file = folder / fmt::format("log{}.sqlite", kill);
            std::filesystem::copy_file(old, file);
            openAndDie(file, whole * kill / 40);
            const std::string version = sqliteShell(file, "PRAGMA user_version");
            CHECK((version == fmt::format("{}\n", schema) || version == fmt::format("{}\n", Log::schemaVersion)));
            ++(version == fmt::format("{}\n", schema) ? before : after);
            auto log = openToWrite(file);
            REQUIRE_MESSAGE(log, log.error().message);
            CHECK(sqliteShell(file,
                              "PRAGMA integrity_check; PRAGMA foreign_key_check; SELECT count(*) FROM try; SELECT "
                              "count(*) FROM student; SELECT count(*) FROM sitting")
                  == "ok\n488\n1\n61\n");
            checkOlderTries(*log, schema);
            for (const char* end : {"", "-wal", "-shm", "-journal"}) std::filesystem::remove(file.string() + end);
        }
        MESSAGE("schema " << schema << ": killed before it was done " << before << " times, after " << after);
        CHECK(before > 0);
    }
}

TEST_CASE(
    "two students may have one name, each keeps the own sittings, and an archived one is back with the next try") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    auto first = log->addStudent("Ines"), second = log->addStudent("Ines");
    REQUIRE(first);
    REQUIRE(second);
    CHECK(first->uuid != second->uuid);
    // RFC 4122, 4.4: the version in the 13th digit, the variant in the 17th
    CHECK(first->uuid.size() == 36);
    CHECK(first->uuid[14] == '4');
    CHECK(std::string("89ab").find(first->uuid[19]) != std::string::npos);
    for (const auto& [uuid, count] : {std::pair{first->uuid, 1}, {second->uuid, 2}, {std::string(), 1}})
        for (int i = 0; i < count; ++i) {
            Sitting sitting = inventedSitting("Ines");
            sitting.studentUuid = uuid;
            REQUIRE(log->put(sitting, inventedTry(1, 1)));
        }
    const auto of = [&](const std::string& uuid) {
        int found = 0;
        const auto all = log->sittings();
        for (const SittingSummary& each : *all) found += each.sitting.studentUuid == uuid ? 1 : 0;
        return found;
    };
    CHECK(of(first->uuid) == 2);  // who is only named is the first of that name
    CHECK(of(second->uuid) == 2);
    second->archived = true;
    second->name = "Ines the younger";
    REQUIRE(log->change(*second));
    CHECK(log->students()->back().name == "Ines the younger");
    CHECK(log->students()->back().archived);
    CHECK(of(second->uuid) == 2);
    Sitting back = inventedSitting("Ines");
    back.studentUuid = second->uuid;
    REQUIRE(log->put(back, inventedTry(1, 1)));
    CHECK_FALSE(log->students()->back().archived);
    CHECK(of(second->uuid) == 3);
    CHECK_FALSE(log->change({"no such", "Tobi", false}));
}

TEST_CASE("a guitar that is changed is another one in the log: old sittings keep theirs") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    Sitting sitting = inventedSitting();
    sitting.guitar.stiffness = {1.5e-5, 3.0e-5};
    REQUIRE(log->put(sitting, inventedTry(1, 1)));
    Sitting later = inventedSitting();
    later.guitar.gaugesInch[0] = 0.011;
    REQUIRE(log->put(later, inventedTry(1, 1)));
    Sitting again = inventedSitting();
    REQUIRE(log->put(again, inventedTry(1, 1)));
    CHECK(log->sitting(1)->sitting.guitar == sitting.guitar);
    CHECK(log->sitting(2)->sitting.guitar == later.guitar);
    CHECK(sqliteShell(folder / "log.sqlite", "SELECT count(*), count(DISTINCT uuid) FROM guitar") == "2|2\n");
}

TEST_CASE("what was to be played is kept once, and read back as it was at the time") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    const Sitting sitting = inventedSitting();
    Drill drill = builtInDrills().front();
    const auto before = std::make_shared<const Task>(taskOf(drill));
    drill.tries = 3;
    const auto after = std::make_shared<const Task>(taskOf(drill));
    CHECK(before->hash != after->hash);
    LoggedTry one = inventedTry(1, 1);
    for (const auto& task : {before, before, after, std::shared_ptr<const Task>()}) {
        one.task = task;
        REQUIRE(log->put(sitting, one));
        ++one.number;
    }
    CHECK(sqliteShell(folder / "log.sqlite", "SELECT count(*) FROM task") == "2\n");
    CHECK((*log->taskOf(1, 2))->content == before->content);
    CHECK((*log->taskOf(1, 3))->hash == after->hash);
    CHECK_FALSE(*log->taskOf(1, 4));
    const auto read = parseDrill((*log->taskOf(1, 3))->content, "kept");
    REQUIRE(read);
    CHECK(read->tries == 3);
    // The published vectors of FNV-1a, 64 bit (draft-eastlake-fnv, appendix).
    CHECK(hashOf("") == "cbf29ce484222325");
    CHECK(hashOf("a") == "af63dc4c8601ec8c");
    CHECK(hashOf("foobar") == "85944171f73967e8");
}

TEST_CASE("a try's curve is read back to half a millisecond and a twentieth of a cent, and takes little room") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    TryCurve curve;
    for (int i = 0; i < 600; ++i) {  // three seconds of a bend with a gap in it
        const double t = i / 200.0;
        curve.push_back({Seconds(t), Cents(-200.0 + 200.0 * std::min(1.0, t) + 2.0 * std::sin(40.0 * t))});
        if (i > 300 && i < 320) curve.back().fromTarget.reset();
    }
    LoggedTry one = inventedTry(1, 1);
    one.curve = packCurve(curve);
    CHECK(one.curve.size() < 2000);
    REQUIRE(log->put(inventedSitting(), one));
    const auto back = log->curve(1, 1);
    REQUIRE(back);
    REQUIRE(*back);
    REQUIRE((*back)->size() == curve.size());
    for (std::size_t i = 0; i < curve.size(); ++i) {
        const CurvePoint &was = curve[i], &is = (**back)[i];
        CHECK(std::abs((was.sinceStroke - is.sinceStroke).value) <= 0.00051);
        REQUIRE(was.fromTarget.has_value() == is.fromTarget.has_value());
        if (was.fromTarget) CHECK(std::abs((*was.fromTarget - *is.fromTarget).value) <= 0.051);
    }
    CHECK_FALSE(*log->curve(1, 2));
    // What zlib's own program makes of it is what the header says.
    writeText(folder / "packed", one.curve);
    CHECK(runCommand(fmt::format("python3 -c \"import zlib, struct; b = zlib.decompress(open('{}', 'rb').read()); "
                                 "print(b[0], len(b), struct.unpack('<hh', b[1:5]), struct.unpack('<hh', b[5:9]))\"",
                                 (folder / "packed").string()))
              .output
          == "1 2401 (0, -2000) (5, 14)\n");
    sqliteShell(folder / "log.sqlite", "UPDATE curve SET points = x'00'");
    const auto damaged = log->curve(1, 1);
    REQUIRE_FALSE(damaged);
    checkSentence(damaged.error(), "sitting 1, try 1", "move it aside");
}

TEST_CASE("what no curve can hold is left out, and no bytes are taken for one that are none") {
    const double nan = std::nan("");
    TryCurve odd{{Seconds(0.0), Cents(nan)}, {Seconds(nan), Cents(1.0)},     {Seconds(1.0), Cents(90000.0)},
                 {Seconds(1e9), Cents(1.0)}, {Seconds(2.0), Cents(-1600.0)}, {Seconds(2.1), Cents(1600.0)}};
    const auto back = unpackCurve(packCurve(odd));
    REQUIRE(back);
    REQUIRE(back->size() == 4);
    CHECK_FALSE((*back)[0].fromTarget);
    CHECK_FALSE((*back)[1].fromTarget);
    CHECK((*back)[3].fromTarget == Cents(1600.0));
    CHECK(unpackCurve(packCurve({}))->empty());
    const std::string sound = packCurve(odd);
    for (std::size_t cut = 0; cut < sound.size(); ++cut) CHECK_FALSE(unpackCurve(sound.substr(0, cut)));
    std::string other = sound;
    for (char& byte : other) byte = static_cast<char>(byte ^ 0x5A);
    CHECK_FALSE(unpackCurve(other));
    const TryCurve endless(100000, CurvePoint{Seconds(0.0), Cents(1.0)});
    CHECK(unpackCurve(packCurve(endless))->size() == 20000);
}

TEST_CASE("takes beside the log are named from there, old ones too, and found again where the folder was moved") {
    const TestFolder folder;
    std::filesystem::create_directories(folder / "hér");
    const auto file = folder / "hér/log.sqlite";
    olderLog(file, 3);
    sqliteShell(file, "UPDATE try SET take_file = '" + (folder / "hér/takes/a.flac").string() + "' WHERE number = 1");
    sqliteShell(file, "UPDATE try SET take_file = '/elsewhere/b.flac' WHERE number = 2");
    {
        auto log = openToWrite(file);
        REQUIRE(log);
        LoggedTry one = inventedTry(2, 9);
        one.takeFile = (folder / "hér/takes/c.flac").string();
        Sitting sitting = log->sitting(1)->sitting;
        REQUIRE(log->put(sitting, one));
    }
    std::filesystem::rename(folder / "hér", folder / "there");
    auto log = openToRead(folder / "there/log.sqlite");
    REQUIRE(log);
    const auto tries = log->tries(1);
    REQUIRE(tries);
    CHECK((*tries)[0].takeFile == "takes/a.flac");
    CHECK(log->takeOf((*tries)[0]) == folder / "there/takes/a.flac");
    CHECK(log->takeOf((*tries)[1]) == "/elsewhere/b.flac");
    CHECK(log->takeOf((*tries)[8]) == folder / "there/takes/c.flac");
}

TEST_CASE("a new log is its owner's alone, and so is what SQLite puts beside it") {
    const TestFolder folder;
    auto log = openToWrite(folder / "log.sqlite");
    REQUIRE(log);
    REQUIRE(log->put(inventedSitting(), inventedTry(1, 1)));
    for (const char* end : {"", "-wal", "-shm"}) {
        CAPTURE(end);
        CHECK((std::filesystem::status((folder / "log.sqlite").string() + end).permissions()
               & (std::filesystem::perms::group_all | std::filesystem::perms::others_all))
              == std::filesystem::perms::none);
    }
}

TEST_CASE("a sitting's figures are kept, and counted anew after any change, whoever makes it") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 40);
    auto log = openToWrite(file);
    REQUIRE(log);
    const auto checkFresh = [&] {
        const auto all = log->sittings();
        for (const SittingSummary& each : *all) {
            const auto fresh = tallyOf(*log->tries(each.id)).gestures();
            REQUIRE(each.gestures.size() == fresh.size());
            for (std::size_t i = 0; i < fresh.size(); ++i) CHECK(each.gestures[i] == fresh[i]);
        }
    };
    const auto kept = [&] { return sqliteShell(file, "SELECT count(*) > 0 FROM figures"); };
    CHECK(kept() == "0\n");
    checkFresh();
    CHECK(kept() == "1\n");
    checkFresh();  // as they were kept
    const bool was = (*log->tries(1))[4].struck;
    REQUIRE(log->setStruck(1, 5, !was));
    CHECK(kept() == "0\n");
    checkFresh();
    sqliteShell(file, "UPDATE try SET first_stop_error_cents = 77");
    CHECK(kept() == "0\n");
    checkFresh();
    sqliteShell(file, "DELETE FROM try WHERE number = 7");
    CHECK(kept() == "0\n");
    checkFresh();
    sqliteShell(file, "UPDATE figures SET rules = -1, tries = 1000");  // by another way of counting
    checkFresh();
}

TEST_CASE("a log of a newer program is refused with both versions, and left as it is") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 1);
    sqliteShell(folder / "log.sqlite", "PRAGMA user_version = 999");
    const std::string before = readText(folder / "log.sqlite");
    for (const auto access : {Log::Access::write, Log::Access::read}) {
        const auto log = Log::open(folder / "log.sqlite", access);
        REQUIRE_FALSE(log);
        CHECK(log.error().code == Error::Code::tooNew);
        checkSentence(log.error(), "999", "update Landfall");
    }
    CHECK(readText(folder / "log.sqlite") == before);
}

TEST_CASE("a value that no column of ours can hold is named with its place") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 3);
    sqliteShell(folder / "log.sqlite", "UPDATE try SET verdict = 'splendid' WHERE number = 2");
    const auto tries = openToRead(folder / "log.sqlite")->tries(1);
    REQUIRE_FALSE(tries);
    CHECK(tries.error().code == Error::Code::corrupt);
    checkSentence(tries.error(), "sitting 1, try 2: verdict", "move it aside");
}
