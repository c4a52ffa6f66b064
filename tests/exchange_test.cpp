#include "src/store/exchange.h"

#include <sys/wait.h>
#include <unistd.h>

#include <csignal>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include <doctest/doctest.h>

#include "src/formats/drill_file.h"
#include "src/store/notes.h"
#include "src/store/students.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

std::string sqliteShell(const std::filesystem::path& file, const std::string& sql) {
    return runCommand(fmt::format("sqlite3 '{}' \"{}\" 2>&1", file.string(), sql)).output;
}

Log openToWrite(const std::filesystem::path& folder) {
    auto made = Log::open(folder / "log.sqlite", Log::Access::write, Seconds(5.0));
    REQUIRE_MESSAGE(made, made.error().message);
    return std::move(*made);
}

// A try as a program plays it: places and numbers that there can be.
LoggedTry played(unsigned seed, int number) {
    LoggedTry one = inventedTry(seed, number);
    one.takeFile.clear();
    one.curve = packCurve(TryCurve{{Seconds(0.0), Cents(-200.0)}, {Seconds(0.5), Cents(number)}});
    one.task = std::make_shared<Task>(taskOf(builtInDrills()[seed % 3]));
    return one;
}

Sitting sittingOf(const std::string& student, std::int64_t token) {
    Sitting sitting = inventedSitting(student);
    sitting.guitar = Guitar{.name = "the kite, \"drop D\"", .openStrings = *parseTuning("drop D")};
    sitting.token = token;
    sitting.started = CalendarTime(std::chrono::milliseconds(1'804'000'000'000 + token * 86'400'000));
    return sitting;
}

// Sittings number `from` to `to` of the student, each with so many tries; with sounds, where they are asked for.
void play(Log& log, const std::string& student, int from, int to, int tries, bool sounds = false) {
    for (int sitting = from; sitting <= to; ++sitting) {
        std::vector<LoggedTry> rows;
        for (int number = 1; number <= tries; ++number) {
            rows.push_back(played(static_cast<unsigned>(sitting), number));
            if (!sounds) continue;
            const auto take = log.folder() / "takes/some" / fmt::format("{}-{}.flac", sitting, number);
            std::filesystem::create_directories(take.parent_path());
            writeText(take, fmt::format("fLaC sound {} of {}", number, sitting));
            rows.back().takeFile = take.string();
        }
        REQUIRE(log.putAll(sittingOf(student, sitting), rows));
    }
}

Student named(Log& log, const std::string& name) {
    auto found = findStudent(log, name);
    REQUIRE_MESSAGE(found, found.error().message);
    return *found;
}

void send(Log& log, const std::string& student, const std::filesystem::path& to, bool takes = false,
          std::optional<CalendarTime> since = {}) {
    const auto done = exportStudent(log, named(log, student), since, takes, to);
    REQUIRE_MESSAGE(done, done.error().message);
}

Incoming taken(Log& log, const std::filesystem::path& from) {
    auto in = importFile(log, from);
    REQUIRE_MESSAGE(in, in.error().message);
    return *in;
}

// Everything of a log but local numbers and the names of takes.
std::string contentOf(const std::filesystem::path& folder) {
    return sqliteShell(
        folder / "log.sqlite",
        "SELECT p.uuid, p.name, s.token, s.started_ms, g.uuid, t.*, k.hash, hex(c.points) FROM try t JOIN "
        "sitting s ON s.id = t.sitting JOIN student p ON p.id = s.student JOIN guitar g ON g.id = "
        "s.guitar LEFT JOIN task k ON k.id = t.task LEFT JOIN curve c ON c.sitting = t.sitting AND "
        "c.number = t.number ORDER BY s.token, t.number");
}

void checkRefused(Log& log, const std::filesystem::path& file, const std::string& words) {
    const auto in = importFile(log, file);
    REQUIRE_FALSE(in);
    INFO(in.error().message);
    CHECK(in.error().message.find(words) != std::string::npos);
    CHECK(in.error().message.find(file.string()) != std::string::npos);
    CHECK(in.error().message.find('\n') == std::string::npos);
}

// Another process does the work, and is killed after so long.
template <typename Work>
std::chrono::duration<double, std::micro> inChild(Work&& work, double afterMicroseconds) {
    const auto begin = std::chrono::steady_clock::now();
    const pid_t child = fork();
    if (child == 0) _exit(work() ? 0 : 1);
    if (afterMicroseconds >= 0.0) {
        usleep(static_cast<useconds_t>(afterMicroseconds));
        ::kill(child, SIGKILL);
    }
    waitpid(child, nullptr, 0);
    return std::chrono::steady_clock::now() - begin;
}

}  // namespace

TEST_CASE("what one log sends another takes in whole, and a second time changes nothing") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 4, 20, true);
    play(log, "Tobi", 5, 6, 20);
    const auto out = outgoing(log, named(log, "Ines"), {});
    REQUIRE(out);
    CHECK(out->sittings == 4);
    CHECK(out->tries == 80);
    CHECK(out->curves == 80);
    CHECK(out->tasks == 3);
    CHECK(out->takes == 80);
    CHECK(out->guitars == std::vector<std::string>{"the kite, \"drop D\""});
    send(log, "Ines", here / "ines.landfall", true);
    CHECK(std::filesystem::status(here / "ines.landfall").permissions()
          == (std::filesystem::perms::owner_read | std::filesystem::perms::owner_write));
    CHECK_FALSE(std::filesystem::exists(here / "ines.landfall.part"));
    CHECK(readText(here / "ines.landfall").find("Tobi") == std::string::npos);
    Incoming in = taken(other, here / "ines.landfall");
    CHECK(in.newStudent);
    CHECK(in.newSittings == 4);
    CHECK(in.newTries == 80);
    CHECK(in.takes == 80);
    CHECK(in.conflicts.empty());
    CHECK(sqliteShell(there / "log.sqlite",
                      "PRAGMA integrity_check; PRAGMA foreign_key_check; SELECT count(*) FROM "
                      "student")
          == "ok\n1\n");
    for (int number = 1; number <= 20; ++number) {
        LoggedTry back = other.tries(2)->at(static_cast<std::size_t>(number - 1));
        const auto take = other.takeOf(back);
        CHECK(readText(take) == fmt::format("fLaC sound {} of 2", number));
        CHECK(std::filesystem::status(take).permissions()
              == (std::filesystem::perms::owner_read | std::filesystem::perms::owner_write));
        back.takeFile.clear();
        CHECK(same(back, played(2, number)));
    }
    const std::string before = contentOf(there.path);
    in = taken(other, here / "ines.landfall");
    CHECK_FALSE(in.newStudent);
    CHECK(in.newSittings == 0);
    CHECK(in.newTries == 0);
    CHECK(in.takes == 0);
    CHECK(in.knownTries == 80);
    CHECK(in.conflicts.empty());
    CHECK(contentOf(there.path) == before);
}

TEST_CASE("a later file adds what is new, from a day on where one is asked for, and sounds may follow") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 2, 10, true);
    send(log, "Ines", here / "first");
    CHECK(taken(other, here / "first").takes == 0);
    play(log, "Ines", 3, 3, 10, true);
    REQUIRE(log.put(sittingOf("Ines", 2), played(2, 11)));
    send(log, "Ines", here / "second", false, sittingOf("Ines", 2).started);
    CHECK(sqliteShell(here / "second", "SELECT group_concat(token) FROM sitting") == "2,3\n");
    const Incoming in = taken(other, here / "second");
    CHECK(in.newSittings == 1);
    CHECK(in.newTries == 11);
    CHECK(in.knownTries == 10);
    send(log, "Ines", here / "sounds", true);
    CHECK(taken(other, here / "sounds").takes == 30);
    // and back to where it came from, which has it all
    send(other, "Ines", there / "back");
    const Incoming back = taken(log, there / "back");
    CHECK(back.newTries == 0);
    CHECK(back.conflicts.empty());
    CHECK(log.students()->size() == 1);
}

TEST_CASE("what is not alike on both sides is named, and the log's own stays") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 1, 5);
    send(log, "Ines", here / "first");
    play(other, "INES", 9, 9, 1);  // another student of that name
    Incoming in = taken(other, here / "first");
    CHECK(in.student.name == "Ines 2");
    REQUIRE(in.conflicts.size() == 1);
    CHECK(in.conflicts[0].find("there is another Ines here already") == 0);
    REQUIRE(other.setStruck(2, 3, !played(1, 3).struck));
    sqliteShell(there / "log.sqlite",
                "UPDATE try SET sd_cents = 1.5 WHERE sitting = 2 AND number = 4; UPDATE guitar "
                "SET name = 'heron'");
    const std::string before = contentOf(there.path);
    in = taken(other, here / "first");
    CHECK(in.conflicts.size() == 4);
    const std::string all = fmt::format("{}", fmt::join(in.conflicts, "\n"));
    CHECK(all.find("the file calls Ines 2 'Ines'") != std::string::npos);
    CHECK(all.find("the file calls the guitar heron") != std::string::npos);
    CHECK(all.find("try 3 of 2027") != std::string::npos);
    CHECK(all.find("try 4 of 2027-03-03 18:26 differs") == std::string::npos);  // in local time
    CHECK(all.find("differs in the file: the log's stays") != std::string::npos);
    CHECK(contentOf(there.path) == before);
    // merged with another one here: known under the old UUID
    REQUIRE(mergeStudents(other, named(other, "Ines 2"), named(other, "INES")));
    in = taken(other, here / "first");
    CHECK(in.student.name == "INES");
    CHECK(in.newTries == 0);
    // a sitting that is another's here is left alone
    sqliteShell(there / "log.sqlite",
                "INSERT INTO student(uuid, name) VALUES('x', 'Noor'); UPDATE sitting SET student "
                "= (SELECT id FROM student WHERE name = 'Noor') WHERE token = 1");
    in = taken(other, here / "first");
    CHECK(in.newTries + in.knownTries == 0);
    CHECK(in.conflicts.back().find("belongs to another student here") != std::string::npos);
}

TEST_CASE("a file that no export wrote is refused whole, whatever is wrong with it") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 2, 5, true);
    send(log, "Ines", here / "good", true);
    play(other, "Tobi", 7, 7, 3);
    const std::string before = contentOf(there.path);
    checkRefused(other, here / "none", "there is no file");
    checkRefused(other, here.path, "there is no file");
    writeText(here / "text", "dear Mara");
    checkRefused(other, here / "text", "not a file that landfall export wrote");
    checkRefused(other, here / "log.sqlite", "not a file that landfall export wrote");
    writeText(here / "cut", readText(here / "good").substr(0, 9000));
    checkRefused(other, here / "cut", "damaged, or not a file that landfall export wrote");
    const char* const wrongs[][2] = {
        {"PRAGMA user_version = 99", "newer Landfall"},
        {"CREATE TRIGGER t AFTER INSERT ON try BEGIN DELETE FROM try; END", "other tables"},
        {"CREATE VIEW v AS SELECT 1", "other tables"},
        {"ALTER TABLE curve ADD COLUMN more TEXT", "other tables"},
        {"DROP TABLE take", "other tables"},
        {"DELETE FROM student", "names no student"},
        {"INSERT INTO student VALUES('b', 'Noor')", "more rows of 'student'"},
        {"UPDATE student SET uuid = 'x'", "has a UUID that is none"},
        {"UPDATE student SET name = ' '", "without a name"},
        {"UPDATE student SET name = hex(zeroblob(3000))", "a value for a name"},
        {"UPDATE guitar SET tuning = '9999'", "a guitar that cannot exist"},
        {"UPDATE guitar SET a4_hz = 9e999", "a guitar that cannot exist"},
        {"UPDATE sitting SET guitar = '00000000-0000-4000-8000-000000000000'", "without a guitar"},
        {"UPDATE sitting SET started_ms = -1", "without a date"},
        {"UPDATE task SET content = 'rm'", "does not match its own name"},
        {"UPDATE try SET task = 99", "belongs to no drill"},
        {"UPDATE try SET sitting = 99 WHERE sitting = 1", "belongs to no sitting"},
        {"UPDATE try SET verdict = 'splendid'", "a value for verdict"},
        {"UPDATE try SET aim_cents = 9e999", "a value for aim_cents"},
        {"UPDATE try SET sentence = hex(zeroblob(30000))", "a value for sentence"},
        {"UPDATE try SET number = -number", "cannot be"},
        {"UPDATE try SET string = 77, fret = 1", "cannot be"},
        {"UPDATE curve SET points = x'0102'", "a pitch curve that cannot be read"},
        {"UPDATE take SET flac = x'7F454C46'", "a sound that is not FLAC"}};
    for (const auto& [sql, words] : wrongs) {
        CAPTURE(sql);
        const auto bad = here / "bad";
        std::filesystem::copy_file(here / "good", bad, std::filesystem::copy_options::overwrite_existing);
        CHECK(sqliteShell(bad, sql) == "");
        checkRefused(other, bad, words);
        CHECK(contentOf(there.path) == before);
        CHECK_FALSE(std::filesystem::exists(there / "takes"));
    }
    // what lies beside a file is not looked at
    std::filesystem::copy_file(here / "good", here / "beside");
    writeText(here / "beside-journal", "not a journal");
    CHECK(taken(other, here / "beside").newTries == 10);
}

TEST_CASE("notes travel with a student's file, twice without harm; what was changed or taken back here stays so") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 2, 3);
    play(log, "Tobi", 3, 3, 3);
    const Student ines = named(log, "Ines");
    REQUIRE(keepNote(log, ines, {.text = "lesson in the green room"}));
    REQUIRE(keepNote(log, ines, {.sitting = 1, .text = "tired"}));
    REQUIRE(keepNote(log, ines, {.sitting = 2, .number = 3, .text = "hear the \"sag\" ♭3"}));
    REQUIRE(keepNote(log, named(log, "Tobi"), {.text = "of Tobi alone"}));
    CHECK(outgoing(log, ines, {})->notes == 3);
    CHECK(outgoing(log, ines, sittingOf("Ines", 2).started)->notes == 2);
    send(log, "Ines", here / "sent");
    CHECK(readText(here / "sent").find("of Tobi alone") == std::string::npos);
    play(other, "Noor", 8, 9, 1);  // so that sittings have other numbers there
    CHECK(taken(other, here / "sent").newNotes == 3);
    CHECK(taken(other, here / "sent").newNotes == 0);
    const Student there_ = named(other, "Ines");
    auto notes = notesOf(other, there_);
    REQUIRE(notes);
    REQUIRE(notes->size() == 3);
    const auto of = [&](const std::string& text) {
        for (const KeptNote& each : *notes)
            if (each.text == text) return each;
        FAIL("no note '" << text << "'");
        return KeptNote{};
    };
    CHECK(of("lesson in the green room").sitting == 0);
    CHECK(of("tired").sitting == 3);
    CHECK(of("tired").number == 0);
    CHECK(of("hear the \"sag\" ♭3").sitting == 4);
    CHECK(of("hear the \"sag\" ♭3").number == 3);
    KeptNote changed = of("tired"), gone = of("lesson in the green room");
    changed.text = "tired, and a cold";
    gone.text = "";
    REQUIRE(keepNote(other, there_, changed));
    REQUIRE(keepNote(other, there_, gone));
    const Incoming in = taken(other, here / "sent");
    REQUIRE(in.conflicts.size() == 1);
    CHECK(in.conflicts[0].find("is another one in the file: the log's stays") != std::string::npos);
    notes = notesOf(other, there_);
    REQUIRE(notes->size() == 2);
    CHECK(of("tired, and a cold").written == changed.written);
}

TEST_CASE("a student's file from before there were notes is still taken in, a wrong note refuses the whole") {
    const TestFolder here, there;
    Log log = openToWrite(here.path), other = openToWrite(there.path);
    play(log, "Ines", 1, 1, 3);
    REQUIRE(keepNote(log, named(log, "Ines"), {.sitting = 1, .number = 2, .text = "mine"}));
    send(log, "Ines", here / "good");
    const std::string before = contentOf(there.path);
    const char* const wrongs[][2] = {{"UPDATE note SET sitting = 99", "belongs to no sitting"},
                                     {"UPDATE note SET number = 99", "a note on a try that is not there"},
                                     {"UPDATE note SET sitting = NULL", "a note that there cannot be"},
                                     {"UPDATE note SET written_ms = -1", "a note that there cannot be"},
                                     {"UPDATE note SET text = hex(zeroblob(3000))", "a value for a note"},
                                     {"UPDATE note SET uuid = 'x'", "has a UUID that is none"},
                                     {"DROP TABLE note", "other tables"}};
    for (const auto& [sql, words] : wrongs) {
        CAPTURE(sql);
        std::filesystem::copy_file(here / "good", here / "bad", std::filesystem::copy_options::overwrite_existing);
        CHECK(sqliteShell(here / "bad", sql) == "");
        checkRefused(other, here / "bad", words);
        CHECK(contentOf(there.path) == before);
    }
    std::string older =
        "ALTER TABLE guitar DROP COLUMN radius_mm; ALTER TABLE guitar DROP COLUMN action_mm; DROP TABLE note; PRAGMA "
        "user_version = 6";
    for (const TryColumn& column : tryColumns())
        if (column.sinceSchema > 6) older += fmt::format("; ALTER TABLE try DROP COLUMN {}", column.name);
    CHECK(sqliteShell(here / "good", older) == "");
    const Incoming in = taken(other, here / "good");
    CHECK(in.newTries == 3);
    CHECK(in.newNotes == 0);
    CHECK_FALSE(other.tries(1)->front().stroke);
    CHECK_FALSE(other.tries(1)->front().brightness);
    CHECK(other.sitting(1)->sitting.guitar.actionMm == 0.0);
}

TEST_CASE("fifty kills while a student is exported: the file is whole or not there, and the log as it was") {
    const TestFolder here, there;
    {
        Log log = openToWrite(here.path);
        play(log, "Ines", 1, 8, 50, true);
    }
    const auto work = [&](const std::filesystem::path& to) {
        auto log = Log::open(here / "log.sqlite", Log::Access::read);
        const auto student = findStudent(*log, "Ines");
        return static_cast<bool>(exportStudent(*log, *student, {}, true, to));
    };
    const double whole = inChild([&] { return work(here / "first"); }, -1.0).count();
    const std::string before = contentOf(here.path);
    int done = 0;
    for (int kill = 0; kill < 50; ++kill) {
        const auto to = here / "sent";
        inChild([&] { return work(to); }, whole * kill / 25.0);
        if (!std::filesystem::exists(to)) continue;
        ++done;
        CHECK(sqliteShell(to, "PRAGMA integrity_check; SELECT count(*) FROM try; SELECT count(*) FROM take")
              == "ok\n400\n400\n");
        std::filesystem::remove(to);
    }
    MESSAGE("whole files: " << done << " of 50");
    CHECK(done < 50);
    CHECK(contentOf(here.path) == before);
    CHECK(work(here / "last"));
    CHECK_FALSE(std::filesystem::exists(here / "last.part"));
}

TEST_CASE("fifty kills while a file is imported: all of it is there or nothing, and the next import makes it whole") {
    const TestFolder here;
    {
        Log log = openToWrite(here.path);
        play(log, "Ines", 1, 8, 50, true);
        send(log, "Ines", here / "sent", true);
    }
    const auto work = [&](const std::filesystem::path& to) {
        auto log = Log::open(to / "log.sqlite", Log::Access::write);
        return log && importFile(*log, here / "sent");
    };
    const TestFolder first;
    { openToWrite(first.path); }
    const double whole = inChild([&] { return work(first.path); }, -1.0).count();
    int nothing = 0;
    for (int kill = 0; kill < 50; ++kill) {
        CAPTURE(kill);
        const TestFolder there;
        {
            Log log = openToWrite(there.path);
            play(log, "Tobi", 9, 9, 3);
        }
        // the last one is left to finish, however slow the machine is now
        inChild([&] { return work(there.path); }, kill == 49 ? -1.0 : whole * kill / 20.0);
        const std::string count = sqliteShell(there / "log.sqlite", "PRAGMA integrity_check; SELECT count(*) FROM try");
        CHECK((count == "ok\n3\n" || count == "ok\n403\n"));
        nothing += count == "ok\n3\n" ? 1 : 0;
        Log log = openToWrite(there.path);
        if (kill % 2 == 0) {  // a look at the log tidies up, too
            const auto looked = log.check();
            REQUIRE(looked);
            CHECK(looked->wrong.empty());
            CHECK(looked->missingTakes == 0);
            std::error_code none;
            for (const auto& each : std::filesystem::directory_iterator(there / "takes", none))
                CHECK(each.path().filename().string().starts_with("sent-"));
        }
        taken(log, here / "sent");
        int sounds = 0;
        std::vector<std::filesystem::path> folders;
        for (const auto& each : std::filesystem::directory_iterator(there / "takes")) folders.push_back(each.path());
        CHECK(folders.size() == 1);
        const auto sittings = log.sittings("Ines");
        for (const SittingSummary& each : *sittings) {
            const auto tries = log.tries(each.id);
            for (const LoggedTry& one : *tries)
                sounds += std::filesystem::exists(log.takeOf(one)) && !one.takeFile.empty() ? 1 : 0;
        }
        CHECK(sounds == 400);
    }
    MESSAGE("nothing was taken in " << nothing << " of 50 times");
    CHECK(nothing > 0);
    CHECK(nothing < 50);
}

TEST_CASE("export says first what goes out, and import what came, in the terminal") {
    const TestFolder home;
    const auto program = [&](const std::string& arguments) {
        return runCommand(
            fmt::format("cd '{0}' && HOME='{0}' XDG_DATA_HOME='{0}/data' XDG_CONFIG_HOME='{0}/config' '{1}' "
                        "{2} 2>&1 < /dev/null",
                        home.path.string(), LANDFALL_PROGRAM, arguments));
    };
    std::filesystem::create_directories(home / "here");
    {
        Log log = openToWrite(home / "here");
        play(log, "Ines", 1, 2, 5, true);
        REQUIRE(log.addStudent("Noor"));
    }
    const auto out = program("export ines --log here/log.sqlite -o sent");
    CHECK(out.status == 0);
    CHECK_MESSAGE(out.output.find("  2 sittings from 2027-") != std::string::npos, out.output);
    CHECK(out.output.find("  10 tries, 10 with their pitch curve\n") != std::string::npos);
    CHECK(out.output.find("no sounds: --takes adds 10 kept sounds, 0.0 MB") != std::string::npos);
    CHECK(out.output.find("Nothing about other students, and no settings.\nIt is in sent, readable by you alone.")
          != std::string::npos);
    CHECK(program("export ines --log here/log.sqlite -o sent").output.find("sent is there already")
          != std::string::npos);
    CHECK(program("export Noor --log here/log.sqlite -o none").output
          == "landfall: Noor has played nothing yet: there is nothing to send\n");
    CHECK(program("export ines --log here/log.sqlite").status == 2);
    CHECK(program("export ines --since yesterday --log here/log.sqlite -o none").status == 2);
    const auto in = program("import sent");
    CHECK_MESSAGE(
        in.output == "Ines, new here: 2 sittings, 10 tries and 0 sounds taken in; 0 tries were here already.\n",
        in.output);
    CHECK(program("import sent").output
          == "Ines: 0 sittings, 0 tries and 0 sounds taken in; 10 tries were here already.\n");
    CHECK(program("import here/log.sqlite").status == 1);
}
