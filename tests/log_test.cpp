#include "src/store/log.h"

#include <fmt/core.h>

#include <doctest/doctest.h>

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
    // number are the listener's own: the log counts the tries itself.
    CHECK(sizeof(Landing) == 392);
    CHECK(sizeof(LoggedTry) == 496);
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
    CHECK(last("Half up", 3) == -2.0);
    CHECK(last("Half up", 2) == -1.0);
    CHECK(last("Whole up", 3) == 0.0);
    CHECK(last("Twelve along", 3) == 0.0);
}

TEST_CASE("two sittings of one student share the student and the guitar") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 2, "Ines");
    makeLog(folder / "log.sqlite", 2, "Tobi");
    makeLog(folder / "log.sqlite", 2, "Ines");
    auto log = openToRead(folder / "log.sqlite");
    REQUIRE(log);
    CHECK(*log->students() == std::vector<std::string>{"Ines", "Tobi"});
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
    std::fill(bytes.begin() + 4096 * 12, bytes.begin() + 4096 * 20, '\xA5');
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
        std::fill(bytes.begin() + 4096 * 12, bytes.begin() + 4096 * 20, '\xA5');
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

TEST_CASE("a log of schema 1 is brought forward with everything that is in it") {
    for (const auto access : {Log::Access::write, Log::Access::read}) {
        const TestFolder folder;
        const auto file = folder / "log.sqlite";
        REQUIRE(runCommand(fmt::format("sqlite3 '{}' < '{}/testdata/log_schema_1.sql' 2>&1", file.string(),
                                       LANDFALL_SOURCE_DIR))
                    .output
                == "");
        REQUIRE(sqliteShell(file, "PRAGMA user_version") == "1\n");
        auto log = Log::open(file, access);
        REQUIRE_MESSAGE(log, log.error().message);
        CHECK(sqliteShell(file, "PRAGMA user_version; PRAGMA integrity_check")
              == fmt::format("{}\nok\n", Log::schemaVersion));
        const auto tries = log->tries(1);
        REQUIRE_MESSAGE(tries, tries.error().message);
        REQUIRE(tries->size() == 8);
        for (int number = 1; number <= 8; ++number) {
            LoggedTry written = inventedTry(1, number);
            written.guess.reset();  // of schema 3
            CHECK(same((*tries)[static_cast<std::size_t>(number - 1)], written));
        }
        const auto sitting = log->sitting(1);
        REQUIRE(sitting);
        CHECK(sitting->sitting.student == "Ines");
        CHECK(sitting->sitting.guitar.a4 == Hertz(442.3));
        CHECK(sitting->sitting.guitar.gaugesInch.empty());  // not known then
        CHECK(sitting->sitting.input == "");
        if (access == Log::Access::read) continue;
        REQUIRE(log->put(inventedSitting("Tobi"), inventedTry(2, 1)));
        CHECK(log->sittings()->size() == 2);
        CHECK(sqliteShell(file, "PRAGMA foreign_key_check; SELECT count(*) FROM try") == "9\n");
    }
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
