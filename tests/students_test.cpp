#include "src/store/students.h"

#include <fmt/core.h>

#include <doctest/doctest.h>

#include "src/store/notes.h"
#include "src/store/sql.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

std::string sqliteShell(const std::filesystem::path& file, const std::string& sql) {
    return runCommand(fmt::format("sqlite3 '{}' \"{}\" 2>&1", file.string(), sql)).output;
}

// The program in a home of its own; `typed` at a terminal, where it is given.
class Home {
public:
    CommandOutcome landfall(const std::string& arguments, const std::string& typed = "") const {
        const std::string line = fmt::format("'{}' {}", LANDFALL_PROGRAM, arguments);
        const std::string whole = typed.empty()
                                      ? line + " < /dev/null"
                                      : fmt::format("printf '{}' | script -qec \"{}\" /dev/null", typed, line);
        return runCommand(
            fmt::format("export HOME='{0}' XDG_DATA_HOME='{0}/data' XDG_CONFIG_HOME='{0}/config'; {1} 2>&1",
                        folder.path.string(), whole));
    }
    std::filesystem::path log() const { return folder / "data/landfall/log.sqlite"; }
    Log opened() const {
        std::filesystem::create_directories(log().parent_path());
        auto made = Log::open(log(), Log::Access::write);
        REQUIRE_MESSAGE(made, made.error().message);
        return std::move(*made);
    }
    bool has(const std::string& output, const std::string& words) const {
        const bool found = output.find(words) != std::string::npos;
        if (!found) MESSAGE("'" << words << "' is not in: " << output);
        return found;
    }
    const TestFolder folder;
};

// A sitting of `tries` tries with curve, task and sound; `secret` stands in each of them.
void play(Log& log, const std::string& student, int tries, const std::string& secret, const std::string& guitar) {
    Sitting sitting = inventedSitting(student);
    sitting.guitar = Guitar{.name = guitar, .openStrings = *parseTuning("seven strings"), .capo = 2};
    std::vector<LoggedTry> rows;
    const auto takes = log.folder() / "takes" / secret;
    std::filesystem::create_directories(takes);
    for (int number = 1; number <= tries; ++number) {
        LoggedTry& one = rows.emplace_back(inventedTry(3, number));
        one.landing.sentence = secret;
        one.takeFile = (takes / fmt::format("{}.flac", number)).string();
        writeText(one.takeFile, "fLaC" + secret);
        one.curve = packCurve(TryCurve{{Seconds(0.0), Cents(-200.0)}, {Seconds(0.5), Cents(number)}});
        one.task = std::make_shared<Task>(Task{"drill", secret, "steps of " + secret, hashOf(secret)});
    }
    REQUIRE(log.putAll(sitting, rows));
}

Student named(Log& log, const std::string& name) {
    auto found = findStudent(log, name);
    REQUIRE_MESSAGE(found, found.error().message);
    return *found;
}

}  // namespace

TEST_CASE("of two students that were one the sittings are together, and the old UUID is still known") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    play(*log, "Toby", 3, "first", "one");
    play(*log, "Tobi", 4, "second", "one");
    play(*log, "Noor", 5, "third", "one");
    const Student from = named(*log, "toby"), into = named(*log, "Tobi");
    REQUIRE(keepNote(*log, from, {.sitting = 1, .number = 2, .text = "of the first"}));
    CHECK_FALSE(mergeStudents(*log, into, into));
    REQUIRE(mergeStudents(*log, from, into));
    CHECK(log->students()->size() == 2);
    CHECK(log->sittings("Tobi")->size() == 2);
    CHECK(notesOf(*log, into)->size() == 1);
    CHECK(log->sittings("Noor")->size() == 1);
    Sitting later = inventedSitting("Toby");
    later.studentUuid = from.uuid;  // of a program that still has the old one
    REQUIRE(log->put(later, inventedTry(1, 1)));
    CHECK(log->sittings("Tobi")->size() == 3);
    CHECK(log->students()->size() == 2);
    // merged on: both old ones lead to the last
    REQUIRE(mergeStudents(*log, into, named(*log, "Noor")));
    Sitting last = inventedSitting("Toby");
    last.studentUuid = from.uuid;
    REQUIRE(log->put(last, inventedTry(1, 1)));
    CHECK(log->sittings("Noor")->size() == 5);
    CHECK(sqliteShell(folder / "log.sqlite", "PRAGMA foreign_key_check; SELECT count(*) FROM former") == "2\n");
}

TEST_CASE("the first student gets a name, or is one with whoever has it") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    REQUIRE(nameStudent(*log, "player", "Ines"));  // nobody has played yet
    CHECK(log->students()->empty());
    play(*log, "player", 2, "first", "one");
    REQUIRE(nameStudent(*log, "player", "Ines"));
    CHECK(log->sittings("Ines")->size() == 1);
    play(*log, "player", 2, "second", "one");
    REQUIRE(nameStudent(*log, "player", "Ines"));
    CHECK(log->sittings("Ines")->size() == 2);
    CHECK(log->students()->size() == 1);
}

TEST_CASE("who is deleted is gone from the rows, from the folder of sounds, and from the bytes of the file") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    {
        auto log = Log::open(file, Log::Access::write);
        REQUIRE(log);
        play(*log, "Ines of Reed Lane", 200, "SECRET-OF-INES", "the heron");
        play(*log, "Tobi", 20, "SECRET-OF-TOBI", "the kite");
        for (const int number : {0, 7})
            REQUIRE(keepNote(*log, named(*log, "Ines of Reed Lane"),
                             {.sitting = 1, .number = number, .text = "SECRET-OF-INES"}));
        const auto before = shareOf(*log, named(*log, "Ines of Reed Lane"));
        REQUIRE(before);
        CHECK(before->sittings == 1);
        CHECK(before->tries == 200);
        CHECK(before->takes == 200);
        const auto gone = removeStudent(*log, named(*log, "Ines of Reed Lane"));
        REQUIRE_MESSAGE(gone, gone.error().message);
        CHECK(gone->tries == 200);
        CHECK(gone->takesLeft == 0);
        CHECK(gone->overwritten);
    }
    CHECK(sqliteShell(file,
                      "PRAGMA integrity_check; PRAGMA foreign_key_check; SELECT count(*) FROM try; SELECT "
                      "count(*) FROM curve; SELECT count(*) FROM task; SELECT name FROM guitar; SELECT count(*) "
                      "FROM former; SELECT count(*) FROM note")
          == "ok\n20\n20\n1\nthe kite\n0\n0\n");
    for (const char* end : {"", "-wal"})
        for (const char* trace : {"SECRET-OF-INES", "Reed Lane", "heron"})
            CHECK(readText(file.string() + end).find(trace) == std::string::npos);
    CHECK(readText(file).find("SECRET-OF-TOBI") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder / "takes/SECRET-OF-INES"));
    CHECK(std::filesystem::exists(folder / "takes/SECRET-OF-TOBI/20.flac"));
}

TEST_CASE("a file that is no sound is never deleted, whatever a log says of it") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    writeText(folder / "letter.txt", "dear Mara");
    writeText(folder / "aim.flac", "fLaC");
    std::filesystem::create_symlink(folder / "aim.flac", folder / "link.flac");
    LoggedTry one = inventedTry(1, 1), two = inventedTry(1, 2);
    one.takeFile = "letter.txt";
    two.takeFile = "link.flac";
    const Sitting sitting = inventedSitting("Ines");
    REQUIRE(log->put(sitting, one));
    REQUIRE(log->put(sitting, two));
    REQUIRE(removeStudent(*log, named(*log, "Ines")));
    CHECK(readText(folder / "letter.txt") == "dear Mara");
    CHECK(std::filesystem::exists(folder / "aim.flac"));
}

TEST_CASE("while another program reads the log a student is deleted, but that nothing is left is not claimed") {
    const TestFolder folder;
    const auto file = folder / "log.sqlite";
    auto log = Log::open(file, Log::Access::write, Seconds(0.1));
    REQUIRE(log);
    play(*log, "Ines", 50, "SECRET-OF-INES", "one");
    {
        auto reader = Log::open(file, Log::Access::read);
        REQUIRE(reader);
        REQUIRE(reader->withSql([&](Connection& sql) {
            sql.run("BEGIN");
            CHECK(sql.number("SELECT count(*) FROM try") == 50);
            const auto gone = removeStudent(*log, named(*log, "Ines"));
            REQUIRE(gone);
            CHECK(gone->tries == 50);
            CHECK_FALSE(gone->overwritten);
            sql.run("COMMIT");
        }));
    }
    const auto bytes = [&] { return readText(file) + readText(file.string() + "-wal"); };
    CHECK(bytes().find("SECRET-OF-INES") != std::string::npos);
    { REQUIRE(Log::open(file, Log::Access::write)); }  // what `landfall log check` does first
    CHECK(bytes().find("SECRET-OF-INES") == std::string::npos);
    CHECK(log->students()->empty());
}

TEST_CASE("the terminal lists, makes, chooses, renames, archives and merges students") {
    const Home home;
    CHECK(home.has(home.landfall("students").output, "player          0  –     plays next"));
    CHECK(home.has(home.landfall("students delete player --sure").output, "there is no log"));
    CHECK_FALSE(std::filesystem::exists(home.log()));
    {
        auto log = home.opened();
        play(log, "player", 3, "first", "standard");
    }
    CHECK(home.has(home.landfall("students new Noor").output, "Noor is in the log."));
    CHECK(home.landfall("students new noor").output
          == "landfall: there is a student Noor already: choose another name\n");
    CHECK(home.landfall("students new ' '").status == 1);
    CHECK(home.landfall("students new '" + std::string(61, 'x') + "'").status == 1);
    CHECK(home.landfall("students use NOOR").output == "The next tries are Noor's.\n");
    REQUIRE(home.landfall("demo --tries 1 --student noor --log '" + home.log().string() + "'").status
            == 0);  // nobody new
    CHECK(home.has(home.landfall("students").output, "Noor            1"));
    CHECK(home.landfall("students archive Noor").status == 0);
    CHECK(home.has(home.landfall("students").output, "archived"));
    CHECK(home.landfall("students back Noor").status == 0);
    CHECK(home.landfall("students rename Noor 'Noor B'").output == "Noor is Noor B now.\n");
    CHECK(home.has(home.landfall("students").output, "plays next"));
    CHECK(home.landfall("students rename 'Noor B' player").status == 1);
    CHECK(home.landfall("students use Mara").output
          == "landfall: there is no student 'Mara' in the log: it has Noor B, player\n");
    CHECK(home.landfall("students merge player Noor-B").output
          == "landfall: merging two students cannot be undone, and nobody is there to ask: add --sure\n");
    CHECK(home.landfall("students merge player Noor-B --sure").status == 0);
    auto log = home.opened();
    CHECK(log.sittings("Noor B")->size() == 2);
    CHECK(home.landfall("students use").status == 2);
    CHECK(home.landfall("students --json use Noor-B").status == 2);
}

TEST_CASE("deleting asks a person twice, and is refused where nobody is there to ask") {
    const Home home;
    {
        auto log = home.opened();
        play(log, "Ines", 3, "first", "standard");
        play(log, "Tobi", 3, "second", "standard");
    }
    CHECK(home.landfall("students delete Ines").status == 1);
    CHECK(home.landfall("students delete Ines", "no\\n").status == 1);
    CHECK(home.has(home.landfall("students delete Ines", "yes\\nTobi\\n").output, "Nothing is deleted."));
    CHECK(home.opened().students()->size() == 2);
    const auto gone = home.landfall("students delete Ines", "yes\\nInes\\n");
    CHECK(gone.status == 0);
    CHECK(home.has(gone.output, "Ines, with 1 sitting with 3 tries and 3 kept sounds, would"));
    CHECK(home.landfall("students delete Tobi --sure").output
          == "Tobi is deleted: 1 sitting, 3 tries, 3 kept sounds.\n");
    CHECK(home.opened().students()->empty());
}

TEST_CASE("before there is a second student a person is asked, once, what the first is called") {
    const Home home;
    {
        auto log = home.opened();
        play(log, "player", 3, "first", "standard");
    }
    CHECK(home.has(home.landfall("students new Tobi", "Ines\\n").output, "What is the name"));
    auto log = home.opened();
    CHECK(log.sittings("Ines")->size() == 1);
    CHECK(home.has(home.landfall("students").output, "Ines            1"));
    CHECK(home.landfall("students new Noor", "x\\n").output.find("What is the name") == std::string::npos);
}

TEST_CASE("a guitar is listed as it was each time, renamed with all it was, archived, and taken up again") {
    const Home home;
    {
        auto log = home.opened();
        play(log, "Ines", 1, "first", "heron");
        Sitting changed = inventedSitting("Ines");
        changed.guitar = Guitar{.name = "heron", .openStrings = *parseTuning("seven strings")};
        changed.started += std::chrono::hours(1);
        REQUIRE(log.put(changed, inventedTry(1, 1)));
    }
    CHECK(home.landfall("guitars rename heron kite").output == "heron is kite now.\n");
    auto log = home.opened();
    const auto entries = guitarEntries(log);
    REQUIRE(entries);
    REQUIRE(entries->size() == 2);
    CHECK(entries->front().guitar.name == "kite");
    CHECK(entries->front().guitar.capo == 0);  // the latest first
    CHECK(entries->back().guitar.capo == 2);
    CHECK(home.landfall("guitars use Kite").status == 0);
    CHECK(home.has(home.landfall("guitars").output, "played next"));
    CHECK(home.has(home.landfall("check").output, "7 strings"));
    CHECK(home.landfall("guitars archive kite").output == "kite is archived.\n");
    CHECK(home.has(home.landfall("guitars --json").output, "\"archived\": true"));
    CHECK(home.landfall("guitars back kite").status == 0);
    CHECK(home.landfall("guitars archive 'no such'").output
          == "landfall: there is no guitar 'no such' in the log: it has kite\n");
}

TEST_CASE("of two guitars that were one all that was played is on one, and a name that is taken is refused") {
    const Home home;
    {
        auto log = home.opened();
        play(log, "Ines", 1, "first", "heron");
        play(log, "Ines", 2, "second", "herron");
    }
    CHECK(home.has(home.landfall("guitars rename herron Heron").output, "there is a guitar heron already"));
    CHECK(home.has(home.landfall("guitars merge herron heron").output, "cannot be undone, and nobody is there to ask"));
    CHECK(home.landfall("guitars merge herron kite --sure").status == 1);
    CHECK(home.landfall("guitars merge kite heron --sure").status == 1);
    CHECK(home.landfall("guitars merge heron heron --sure").status == 1);
    auto log = home.opened();
    CHECK(guitarEntries(log)->size() == 2);
    REQUIRE(archiveGuitar(log, "herron", true));
    CHECK(home.landfall("guitars merge herron heron --sure").output == "herron is heron now.\n");
    const auto entries = guitarEntries(log);
    for (const GuitarEntry& each : *entries) {
        CHECK(each.guitar.name == "heron");
        CHECK_FALSE(each.archived);
    }
    const auto sittings = log.sittings();
    for (const SittingSummary& each : *sittings) CHECK(each.sitting.guitar.name == "heron");
    // As the window does it: what is in hand is archived no longer.
    REQUIRE(archiveGuitar(log, "heron", true));
    REQUIRE(keepGuitar(log, Guitar{.name = "kite"}));
    REQUIRE(joinGuitar(log, "kite", "heron"));
    REQUIRE(joinGuitar(log, "never played", "heron"));
    const auto joined = guitarEntries(log);
    CHECK(joined->size() == 3);
    for (const GuitarEntry& each : *joined) CHECK((each.guitar.name == "heron" && !each.archived));
}

TEST_CASE("a guitar that was changed is another row: what was played keeps its instrument, what was not goes") {
    const TestFolder folder;
    auto log = Log::open(folder / "log.sqlite", Log::Access::write);
    REQUIRE(log);
    const auto states = [&] {
        std::vector<double> actions;
        const auto entries = guitarEntries(*log);
        for (const GuitarEntry& each : *entries) actions.push_back(each.guitar.actionMm);
        return actions;
    };
    Sitting sitting = inventedSitting("Ines");
    sitting.guitar = Guitar{.name = "heron", .radiusMm = 305.0, .actionMm = 1.5, .stiffness = {1e-4, 0.0, 2e-4}};
    REQUIRE(log->put(sitting, inventedTry(1, 1)));
    CHECK(guitarEntries(*log)->front().guitar == sitting.guitar);  // with what is known of its strings
    Guitar now = sitting.guitar;
    for (const double action : {2.0, 2.5}) {
        now.actionMm = action;
        REQUIRE(keepGuitar(*log, now));
        CHECK(states() == std::vector{action, 1.5});  // as it is now first
    }
    REQUIRE(archiveGuitar(*log, "heron", true));
    Sitting later = sitting;
    later.token = Sitting::newToken();
    later.started += std::chrono::hours(1);
    REQUIRE(log->put(later, inventedTry(1, 1)));
    CHECK(states() == std::vector{1.5});                 // played as it was before: the other state was never played
    CHECK_FALSE(guitarEntries(*log)->front().archived);  // and is back
    CHECK(log->sitting(1)->sitting.guitar.actionMm == 1.5);
    const auto refused = removeGuitar(*log, "heron");
    REQUIRE_FALSE(refused);
    CHECK(refused.error().message == "heron was played in 2 sittings, which keep their guitar: archive it instead");
    REQUIRE(keepGuitar(*log, Guitar{.name = "kite"}));
    REQUIRE(removeStudent(*log, named(*log, "Ines")));
    CHECK(guitarEntries(*log)->size() == 1);  // nobody's yet, and still there
    REQUIRE(putAwayGuitar(*log, "kite"));
    CHECK(guitarEntries(*log)->empty());
    REQUIRE(putAwayGuitar(*log, "kite"));
    REQUIRE(nameGuitar(*log, "kite", "wren"));
}

TEST_CASE("the terminal makes a guitar, says how it is now, and deletes one that was never played") {
    const Home home;
    CHECK(home.has(home.landfall("guitars new 'the long one' --scale 673 --third wound --gauges 0.011 0.014").output,
                   "strings 0.011 to 0.014 in, third wound, scale 673 mm. `landfall guitars use"));
    CHECK(home.landfall("guitars new 'THE LONG ONE'").output
          == "landfall: there is a guitar THE LONG ONE already: choose another name\n");
    CHECK(home.landfall("guitars new ' '").status == 1);
    CHECK(home.has(home.landfall("guitars use 'the long one'").output, "Next is the long one"));
    CHECK(home.has(home.landfall("guitars change 'The long one' --action 1.8 --radius 305 --tuning 'drop D'").output,
                   "radius 305 mm, action 1.8 mm. What was played"));
    CHECK(home.has(home.landfall("check").output, "drop D"));  // the settings know it
    CHECK(home.landfall("guitars change 'the long one' --action 18").status == 1);
    CHECK(home.landfall("guitars change wren --action 1").status == 1);
    const std::string json = home.landfall("guitars --json").output;
    CHECK(home.has(json, "\"action_mm\": 1.8"));
    CHECK(home.has(json, "\"plain_strings\": 2"));
    REQUIRE(home.landfall("guitars new brief").status == 0);
    CHECK(home.landfall("guitars delete brief").output == "brief is deleted: nothing was played on it.\n");
    CHECK(home.landfall("guitars delete brief").status == 1);
    CHECK(home.landfall("guitars new x --third metal").status == 2);
}
