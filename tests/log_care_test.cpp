// The log's file as a whole: checked, mended, copied, and what can happen to it.
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <thread>

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "src/store/log.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

Result<Log> openToWrite(const std::filesystem::path& file) { return Log::open(file, Log::Access::write, Seconds(5.0)); }

std::string sqliteShell(const std::filesystem::path& file, const std::string& sql) {
    return runCommand(fmt::format("sqlite3 '{}' \"{}\" 2>&1", file.string(), sql)).output;
}

void makeLog(const std::filesystem::path& file, int sittings, int tries,
             const Guitar& guitar = inventedSitting().guitar) {
    auto log = openToWrite(file);
    REQUIRE_MESSAGE(log, log.error().message);
    for (int i = 0; i < sittings; ++i) {
        Sitting sitting = inventedSitting();
        sitting.guitar = guitar;
        std::vector<LoggedTry> rows;
        for (int number = 1; number <= tries; ++number) {
            rows.push_back(inventedTry(static_cast<unsigned>(i), number));
            rows.back().takeFile.clear();
            rows.back().curve = packCurve(TryCurve{{Seconds(0.0), Cents(-200.0)}, {Seconds(0.5), Cents(number)}});
        }
        REQUIRE(log->putAll(sitting, rows));
    }
}

LogCheck checkOf(const std::filesystem::path& file) {
    auto log = openToWrite(file);
    REQUIRE_MESSAGE(log, log.error().message);
    auto found = log->check();
    REQUIRE_MESSAGE(found, found.error().message);
    return *found;
}

CommandOutcome program(const TestFolder& folder, const std::string& arguments) {
    return runCommand(fmt::format("HOME='{0}' XDG_DATA_HOME='{0}/data' XDG_CONFIG_HOME='{0}/config' '{1}' {2} 2>&1",
                                  folder.path.string(), LANDFALL_PROGRAM, arguments));
}

// What a child process made of it: 0 where `work` was true.
template <typename Work>
pid_t inChild(Work&& work) {
    const pid_t child = fork();
    if (child == 0) _exit(work() ? 0 : 1);
    return child;
}

}  // namespace

TEST_CASE("a sound log is read to its end, and nothing is changed but that it is its owner's alone") {
    const TestFolder folder;
    makeLog(folder / "log.sqlite", 3, 20);
    const LogCheck found = checkOf(folder / "log.sqlite");
    CHECK(found.students == 1);
    CHECK(found.sittings == 3);
    CHECK(found.tries == 60);
    CHECK(found.curves == 60);
    CHECK(found.mended.empty());
    CHECK(found.wrong.empty());
    // counted already: nobody waits for them afterwards
    CHECK(sqliteShell(folder / "log.sqlite", "SELECT count(DISTINCT sitting) FROM figures") == "3\n");
    using std::filesystem::perms;
    std::filesystem::permissions(folder / "log.sqlite", perms::owner_all | perms::group_read | perms::others_read);
    CHECK(checkOf(folder / "log.sqlite").mended.size() == 1);
    CHECK(std::filesystem::status(folder / "log.sqlite").permissions() == (perms::owner_read | perms::owner_write));
}

TEST_CASE("what can be made anew is mended, and every try is still there") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 2, 20);
    sqliteShell(file, "UPDATE curve SET points = x'0102' WHERE number = 3; INSERT INTO curve VALUES(1, 999, x'00')");
    // an index that lacks a row, which only reading all of it shows
    sqliteShell(file,
                "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = 'CREATE INDEX sitting_of_student ON "
                "sitting(started_ms, student)' WHERE name = 'sitting_of_student'");
    const LogCheck found = checkOf(file);
    CHECK(found.mended.size() == 2);
    CHECK(found.wrong.empty());
    CHECK(found.tries == 40);
    CHECK(found.curves == 38);
    CHECK(sqliteShell(file, "PRAGMA integrity_check") == "ok\n");
    CHECK(checkOf(file).mended.empty());
}

TEST_CASE("what cannot be mended is named with its place, and the status says so") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 2, 5);
    sqliteShell(file,
                "UPDATE try SET verdict = 'splendid' WHERE sitting = 2 AND number = 4; UPDATE sitting SET student = 7 "
                "WHERE id = 1; UPDATE try SET take_file = 'takes/gone.flac' WHERE number = 1");
    const auto ran = program(folder, "log check --log '" + file.string() + "'");
    CHECK(ran.status == 1);
    CHECK(ran.output.find("wrong: sitting 2, try 4: verdict holds something else\n") != std::string::npos);
    CHECK(ran.output.find("wrong: 1 rows refer to a student, guitar, sitting or task that is not there\n")
          != std::string::npos);
    CHECK(ran.output.find("Kept sounds that are no longer there: 1.\n") != std::string::npos);
    std::string bytes = readText(file);
    std::fill(bytes.begin() + 4096 * 3, bytes.begin() + 4096 * 5, '\xA5');
    writeText(file, bytes);
    const auto damaged = program(folder, "log check --log '" + file.string() + "'");
    CHECK(damaged.status == 1);
    CHECK(damaged.output.find(".recover") != std::string::npos);
}

TEST_CASE("where, check and backup say what they did, in one line where they cannot") {
    const TestFolder folder;
    const auto file = folder / "data/landfall/log.sqlite";
    CHECK(program(folder, "log where").output == file.string() + "\n");
    CHECK(program(folder, "log check").output
          == "landfall: there is no log " + file.string() + " yet: it begins with the first try\n");
    CHECK(program(folder, "log backup b.sqlite").status == 1);
    std::filesystem::create_directories(file.parent_path());
    makeLog(file, 1, 5);
    const auto checked = program(folder, "log check");
    CHECK(checked.status == 0);
    CHECK(checked.output
          == file.string() + "\nRead: students 1, sittings 1, tries 5, curves 5.\nNothing in it is damaged.\n");
    const std::string to = "'" + (folder / "b.sqlite").string() + "'";
    CHECK(program(folder, "log backup " + to).status == 0);
    CHECK(std::filesystem::status(folder / "b.sqlite").permissions()
          == (std::filesystem::perms::owner_read | std::filesystem::perms::owner_write));
    CHECK(program(folder, "log backup " + to).output
          == "landfall: " + (folder / "b.sqlite").string() + " is there already: name a file that is not there yet\n");
    CHECK(
        program(folder, "log backup '" + (folder / "no/b.sqlite").string() + "'").output.find("does not exist: make it")
        != std::string::npos);
    CHECK(program(folder, "log --log " + to).output.find("Ines") != std::string::npos);
    CHECK(program(folder, "log backup").status == 2);
}

TEST_CASE("a log is copied while another program practises into it: each copy is whole up to some try") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 20, 50);
    const pid_t writer = inChild([&] {
        return runCommand(fmt::format("'{}' '{}' 31 150 >/dev/null", LANDFALL_LOG_WRITER, file.string())).status == 0;
    });
    std::size_t before = 0;
    for (int copy = 0; copy < 10; ++copy) {
        const auto to = folder / fmt::format("copy{}.sqlite", copy);
        {
            auto log = Log::open(file, Log::Access::read, Seconds(5.0));
            REQUIRE_MESSAGE(log, log.error().message);
            const auto done = log->backup(to);
            REQUIRE_MESSAGE(done, done.error().message);
        }
        auto log = Log::open(to, Log::Access::read);
        REQUIRE_MESSAGE(log, log.error().message);
        const auto sittings = log->sittings();
        REQUIRE(sittings);
        const auto tries = log->tries(21);
        REQUIRE(tries);
        CHECK(tries->size() >= before);
        before = tries->size();
        for (std::size_t i = 0; i < tries->size(); ++i)
            CHECK(same((*tries)[i], inventedTry(31, static_cast<int>(i) + 1)));
        CHECK(sqliteShell(to, "PRAGMA integrity_check; SELECT count(*) FROM try WHERE sitting <= 20") == "ok\n1000\n");
    }
    int status = 1;
    waitpid(writer, &status, 0);
    CHECK(status == 0);
    CHECK(openToWrite(file)->tries(21)->size() == 150);
}

TEST_CASE("fifty kills while a log is copied: the copy is whole or not there, and the log as it was") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 10, 50);
    const auto begin = std::chrono::steady_clock::now();
    {
        auto log = Log::open(file, Log::Access::read);
        REQUIRE(log->backup(folder / "first.sqlite"));
    }
    const std::chrono::duration<double, std::micro> whole = std::chrono::steady_clock::now() - begin;
    int there = 0;
    for (int kill = 0; kill < 50; ++kill) {
        const auto to = folder / fmt::format("copy{}.sqlite", kill);
        const pid_t child = inChild([&] {
            auto log = Log::open(file, Log::Access::read);
            return log && log->backup(to);
        });
        usleep(static_cast<useconds_t>(whole.count() * kill / 40.0));
        ::kill(child, SIGKILL);
        waitpid(child, nullptr, 0);
        if (!std::filesystem::exists(to)) continue;
        ++there;
        CHECK(sqliteShell(to, "PRAGMA integrity_check; SELECT count(*) FROM try") == "ok\n500\n");
    }
    MESSAGE("whole copies: " << there << " of 50");
    CHECK(there < 50);
    CHECK(checkOf(file).tries == 500);
    auto log = openToWrite(file);
    REQUIRE(log->backup(folder / "last.sqlite"));
    CHECK(sqliteShell(folder / "last.sqlite", "SELECT count(*) FROM try") == "500\n");
}

TEST_CASE("a copy that finds the disk full is named, and nothing of it stays") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite", to = folder / "copy.sqlite";
    makeLog(file, 10, 50);
    for (const rlim_t bytes : {rlim_t{40000}, rlim_t{60000}, rlim_t{150000}}) {
        const pid_t child = inChild([&] {
            std::signal(SIGXFSZ, SIG_IGN);  // then a write fails, as on a full disk
            const rlimit limit{bytes, RLIM_INFINITY};
            setrlimit(RLIMIT_FSIZE, &limit);
            auto log = Log::open(file, Log::Access::read);
            if (!log) return false;
            const auto done = log->backup(to);
            return !done && done.error().code == Error::Code::full
                   && done.error().message.find("copy.sqlite is full: free some space") != std::string::npos;
        });
        int status = 1;
        waitpid(child, &status, 0);
        CAPTURE(bytes);
        CHECK(status == 0);
        CHECK_FALSE(std::filesystem::exists(to));
        CHECK_FALSE(std::filesystem::exists(to.string() + ".part"));
    }
    CHECK(checkOf(file).tries == 500);
}

TEST_CASE("whatever a command writes, a full disk is named, and neither the log nor a file is half written") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    makeLog(file, 3, 20);
    makeLog(folder / "other.sqlite", 3, 20, Guitar{});
    writeText(folder / "week.lesson.toml", "title = \"Week\"\n[[task]]\ndrill = \"Half up\"\ntries = 20\n");
    REQUIRE(
        program(folder, fmt::format("export Ines -o '{0}/sent' --log '{0}/other.sqlite'", folder.path.string())).status
        == 0);
    {
        auto log = openToWrite(file);
        REQUIRE(log->addStudent("Tobi"));
        REQUIRE(log->check());
    }
    const std::string before = sqliteShell(file, ".dump");
    REQUIRE(before.find("Tobi") != std::string::npos);
    int refused = 0;
    for (const int kilobytes : {1, 33, 80})  // not even the index of the write-ahead log; that alone; some of the rest
        for (const char* writes : {"students new Anna", "students rename Ines Inez", "students merge Ines Tobi --sure",
                                   "students archive Ines", "guitars new 'the long one'", "log --note 1 'stiff wrist?'",
                                   "log --strike 1.3", "import {}/sent", "open {}/week.lesson.toml --student Ines",
                                   "report Ines -o {}/written", "export Ines -o {}/written", "log backup {}/written"}) {
            CAPTURE(kilobytes);
            CAPTURE(std::string(writes));
            const TestFolder here;
            std::filesystem::copy_file(file, here / "log.sqlite");
            for (const char* given : {"sent", "week.lesson.toml"})
                std::filesystem::copy_file(folder / given, here / given);
            std::string words = writes;
            if (const auto at = words.find("{}"); at != std::string::npos) words.replace(at, 2, here.path.string());
            // The signal is left aside: then a write beyond the limit fails as on a full disk.
            const auto ran = runCommand(fmt::format(
                "trap '' XFSZ; ulimit -f {0}; HOME='{1}' XDG_DATA_HOME='{1}/d' XDG_CONFIG_HOME='{1}/c' '{2}' {3} "
                "--log '{1}/log.sqlite' 2>&1",
                2 * kilobytes, here.path.string(), LANDFALL_PROGRAM, words));
            if (ran.status == 0) continue;  // there was space enough
            CHECK_MESSAGE(ran.output.find("full") != std::string::npos, ran.output);
            ++refused;
            CHECK(sqliteShell(here / "log.sqlite", ".dump") == before);
            CHECK_FALSE(std::filesystem::exists(here / "written"));
        }
    CHECK(refused >= 16);  // each of the twelve, and those that write more than a few pages
}

TEST_CASE("two programs practise into one log: both sittings are whole, and none is doubled") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    std::vector<pid_t> writers;
    for (const int seed : {41, 42})
        writers.push_back(inChild([&] {
            return runCommand(fmt::format("'{}' '{}' {} 60 >/dev/null", LANDFALL_LOG_WRITER, file.string(), seed))
                       .status
                   == 0;
        }));
    for (const pid_t writer : writers) {
        int status = 1;
        waitpid(writer, &status, 0);
        CHECK(status == 0);
    }
    CHECK(sqliteShell(file,
                      "SELECT count(*), count(DISTINCT sitting) FROM try; SELECT count(*) FROM student; SELECT "
                      "count(*) FROM guitar; PRAGMA integrity_check")
          == "120|2\n1\n1\nok\n");
    auto log = openToWrite(file);
    REQUIRE(log);
    const auto sittings = log->sittings();
    REQUIRE(sittings);
    for (const SittingSummary& each : *sittings) {
        const auto tries = log->tries(each.id);
        REQUIRE(tries->size() == 60);
        for (int number = 1; number <= 60; ++number)
            CHECK(same((*tries)[static_cast<std::size_t>(number - 1)],
                       inventedTry(static_cast<unsigned>(each.sitting.token), number)));
    }
}

TEST_CASE("a clock that was set back loses no sitting, and a write-ahead log left over is folded in") {
    const TestFolder folder, left;
    const auto file = folder / "log.sqlite";
    auto log = openToWrite(file);
    REQUIRE(log);
    Sitting later = inventedSitting(), earlier = inventedSitting();
    earlier.started = later.started - std::chrono::hours(24 * 400);
    REQUIRE(log->put(later, inventedTry(1, 1)));
    REQUIRE(log->put(earlier, inventedTry(2, 1)));
    REQUIRE(log->put(later, inventedTry(1, 2)));
    const auto sittings = log->sittings();
    REQUIRE(sittings);
    REQUIRE(sittings->size() == 2);
    CHECK(sittings->front().sitting.token == earlier.token);
    CHECK(*log->firstSitting("Ines") == earlier.started);
    CHECK(log->tries(1)->size() == 2);
    for (const char* end : {"", "-wal"})  // as a kill leaves it
        std::filesystem::copy_file(file.string() + end, (left / "log.sqlite").string() + end);
    CHECK(std::filesystem::file_size((left / "log.sqlite").string() + "-wal") > 0);
    CHECK(checkOf(left / "log.sqlite").tries == 3);
    CHECK_FALSE(std::filesystem::exists((left / "log.sqlite").string() + "-wal"));
}
