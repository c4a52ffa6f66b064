#include <doctest/doctest.h>

#include <fmt/core.h>

#include "src/store/log.h"
#include "src/system/printable.h"
#include "tests/support/command.h"
#include "tests/support/invented_tries.h"

using namespace landfall;

namespace {

// The program as a person calls it, in a home of its own.
class Home {
public:
    CommandOutcome landfall(const std::string& arguments) const {
        return runCommand(
            fmt::format("HOME='{0}' XDG_DATA_HOME='{0}/data' XDG_CONFIG_HOME='{0}/config' TZ=UTC '{1}' {2} 2>&1",
                        folder.path.string(), LANDFALL_PROGRAM, arguments));
    }
    std::filesystem::path log() const { return folder / "data/landfall/log.sqlite"; }
    void play(const std::string& student, const std::vector<LoggedTry>& tries) const {
        std::filesystem::create_directories(log().parent_path());
        auto opened = Log::open(log(), Log::Access::write);
        REQUIRE_MESSAGE(opened, opened.error().message);
        Sitting sitting;
        sitting.student = student;
        sitting.software = "0.1.0";
        sitting.started = CalendarTime(std::chrono::milliseconds(1'804'269'909'250));  // date -u -d @1804269909
        for (const LoggedTry& one : tries) REQUIRE(opened->put(sitting, one));
    }
    std::string python(const std::string& arguments, const std::string& program) const {
        writeText(folder / "read.py", program);
        const auto ran =
            runCommand(fmt::format("HOME='{0}' XDG_DATA_HOME='{0}/data' XDG_CONFIG_HOME='{0}/config' '{1}' {2} > "
                                   "'{0}/out' && PYTHONUTF8=1 python3 '{0}/read.py' '{0}/out' 2>&1",
                                   folder.path.string(), LANDFALL_PROGRAM, arguments));
        CHECK_MESSAGE(ran.status == 0, ran.output);
        return ran.output;
    }

    const TestFolder folder;
};

LoggedTry halfUp(int number, std::optional<double> firstStop) {
    LoggedTry one;
    one.number = number;
    one.drill = "Half up";
    one.landing.move = {Gesture::bend, MidiPitch(67), MidiPitch(68), NeckPlace{2, 8}, {}};
    one.landing.verdict = firstStop ? Verdict::near : Verdict::died;
    one.landing.sentence = firstStop ? fmt::format("{:.0f} under, \"near\".", -*firstStop) : "Died before arriving.";
    if (firstStop) one.landing.firstStopError = one.landing.landingError = Cents(*firstStop);
    return one;
}

}  // namespace

TEST_CASE("before the first try the log is one friendly line that says where it will be") {
    const Home home;
    const auto ran = home.landfall("log");
    CHECK(ran.status == 0);
    CHECK(ran.output
          == fmt::format("There is no log yet. It starts with your first try (`landfall practise`), in "
                         "{}.\n",
                         home.log().string()));
    CHECK_FALSE(std::filesystem::exists(home.log()));
    CHECK(home.python("log --json", "import json, sys\nprint(json.load(open(sys.argv[1])))\n") == "{'sittings': []}\n");
}

TEST_CASE("a log that was named and is not there fails with one line") {
    const Home home;
    const auto ran = home.landfall("log --log missing.sqlite");
    CHECK(ran.status == 1);
    CHECK(ran.output == "landfall: there is no log missing.sqlite yet: it begins with the first try\n");
}

TEST_CASE("the list shows each sitting with its typical miss, share inside and lost tries") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0), halfUp(2, -30.0), halfUp(3, {}), halfUp(4, -20.0)});
    home.play("Tobi", {halfUp(1, 3.0)});
    const auto ran = home.landfall("log");
    CHECK(ran.status == 0);
    CHECK(
        ran.output.find("      1  2027-03-05 18:05  Ines     standard  bend         4    20.0  2 of 4     1  Half up\n")
        != std::string::npos);
    CHECK_MESSAGE(
        ran.output.find("      2  2027-03-05 18:05  Tobi     standard  bend         1     3.0  1 of 1     0  Half up\n")
            != std::string::npos,
        ran.output);
    const auto tobi = home.landfall("log --student tobi");
    CHECK(tobi.output.find("Tobi") != std::string::npos);
    CHECK(tobi.output.find("Ines") == std::string::npos);
}

TEST_CASE("an unknown student is one line with those that exist, and an unknown sitting one line too") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0)});
    home.play("Noor", {halfUp(1, -12.0)});
    const auto student = home.landfall("log --student Mara");
    CHECK(student.status == 1);
    CHECK(student.output == "landfall: there is no student 'Mara' in the log: it has Ines, Noor\n");
    const auto sitting = home.landfall("log 7");
    CHECK(sitting.status == 1);
    CHECK(sitting.output
          == fmt::format("landfall: there is no sitting 7 in the log {}: `landfall log` lists them\n",
                         home.log().string()));
    CHECK(home.landfall("log seven").output
          == "landfall: 'seven' is not a sitting; write its number, or last (`landfall log` lists them, with --student NAME one student's)\n");
    CHECK(home.landfall("log --csv --json").status == 2);
}

TEST_CASE("one sitting is printed with its tries and its totals per gesture") {
    const Home home;
    LoggedTry struck = halfUp(3, -80.0);
    struck.struck = true;
    home.play("Ines", {halfUp(1, -12.0), halfUp(2, {}), struck, halfUp(4, -21.0)});
    for (const char* which : {"log 1", "log last"}) {
        const auto ran = home.landfall(which);
        INFO(ran.output);
        CHECK(ran.status == 0);
        CHECK(ran.output.find("Sitting 1 · 2027-03-05 18:05 · Ines · 6 strings") == 0);
        CHECK(ran.output.find(
                  "1.1  Half up  bend     B string · fret 8       -12.0    -12.0           12 under, \"near\".\n")
              != std::string::npos);
        CHECK(ran.output.find(
                  "1.2  Half up  bend     B string · fret 8           –        –           Died before arriving.\n")
              != std::string::npos);
        CHECK(ran.output.find("dropped") != std::string::npos);
        CHECK(ran.output.find("bend         3    16.5       -16.5  2 of 3     1            0\n") != std::string::npos);
    }
}

TEST_CASE("a try is struck and restored from the command line") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0), halfUp(2, -20.0)});
    CHECK(home.landfall("log --strike 1.2").output == "Try 1.2 is dropped: it stays in the log but is not counted.\n");
    CHECK(home.landfall("log").output.find("1 of 1") != std::string::npos);
    CHECK(home.landfall("log --restore 1.2").output == "Try 1.2 counts again.\n");
    CHECK(home.landfall("log").output.find("2 of 2") != std::string::npos);
    const auto unknown = home.landfall("log --strike 1.9");
    CHECK(unknown.status == 1);
    CHECK(unknown.output.find("landfall: there is no try 1.9 in the log") == 0);
    CHECK(
        home.landfall("log --strike twelve").output
        == "landfall: 'twelve' is not a try; write SITTING.NUMBER, such as 3.12 (`landfall log SITTING` lists them)\n");
}

TEST_CASE("notes are kept with a try, a sitting or the lessons, and printed where they belong") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0), halfUp(2, -20.0)});
    home.play("Tobi", {halfUp(1, 3.0)});
    CHECK(home.landfall("log --note 1.2 'the wrist, not the finger'").output == "Kept, on try 1.2 of Ines.\n");
    CHECK(home.landfall("log --note 1 tired").output == "Kept, on sitting 1 of Ines.\n");
    CHECK(home.landfall("log --note ines 'in the green room'").output == "Kept, on the lesson of Ines.\n");
    const auto sitting = home.landfall("log 1").output;
    CHECK_MESSAGE(sitting.find("\ntry 1.2 ") < sitting.find("the wrist, not the finger\n"), sitting);
    CHECK(sitting.find("tired\n") != std::string::npos);
    CHECK(sitting.find("green room") == std::string::npos);
    CHECK(home.landfall("log 2").output.find("note on") == std::string::npos);
    const auto lessons = home.landfall("log --student ines").output;
    CHECK_MESSAGE(lessons.find("the lesson  ") != std::string::npos, lessons);
    CHECK(lessons.find("in the green room\n") != std::string::npos);
    CHECK(home.landfall("log 1 --json").output.find("\"text\": \"the wrist, not the finger\"") != std::string::npos);
    CHECK(home.landfall("log --student ines --json").output.find("\"text\": \"in the green room\"")
          != std::string::npos);
    // nothing to be noted on, nothing noted
    CHECK(home.landfall("log --note 1.9 lost").status == 1);
    CHECK(home.landfall("log --note 7 lost").output.find("landfall: there is no sitting 7 in the log") == 0);
    CHECK(home.landfall("log --note Noor lost").output.find("landfall: there is no student 'Noor'") == 0);
    CHECK(home.landfall("log --note 1 ''").status == 2);
    CHECK(home.landfall("log --note 1").status == 2);
    CHECK(home.landfall("log --note 1 " + std::string(241, 'x')).output.find("240 characters at the most")
          != std::string::npos);
}

TEST_CASE("CSV and JSON of a sitting hold every measured value, as Python's readers see it") {
    const Home home;
    std::vector<LoggedTry> tries;
    for (int number = 1; number <= 60; ++number) tries.push_back(inventedTry(21, number));
    home.play("Ines", tries);
    // The two agree with each other, value by value, and with the database as the sqlite3 module reads it; there a take is
    // named from where the log is.
    const std::string whole =
        "import os\n"
        "whole = lambda take: take and os.path.join('"
        + home.log().parent_path().string() + "', take)\n";
    const std::string compare =
        "import csv, json, sqlite3, subprocess, sys\n"
        "rows = list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8'), strict=True))\n"
        "db = sqlite3.connect('" + home.log().string() + "'); db.row_factory = sqlite3.Row\n"
        "kept = db.execute('SELECT * FROM try WHERE sitting = 1 ORDER BY number').fetchall()\n"
        "assert len(rows) == len(kept) == 60\n"
        "def like(text, value, name):\n"
        "    if name in ('struck', 'guided'): return text == ('true' if value else 'false')\n"
        "    if value is None: return text == ''\n"
        "    return text == value if isinstance(value, str) else float(text) == value\n"
        "for row, one in zip(rows, kept):\n"
        "    for name in one.keys():\n"
        "        if name in ('sitting', 'at_ms', 'task'): continue\n"
        "        value = whole(one[name]) if name == 'take_file' else one[name]\n"
        "        assert like(row[name], value, name), (name, row[name], value)\n"
        "print('same')\n";
    CHECK(home.python("log 1 --csv", whole + compare) == "same\n");
    const std::string json =
        "import datetime, json, sqlite3, sys\n"
        "d = json.load(open(sys.argv[1], encoding='utf-8'))\n"
        "db = sqlite3.connect('" + home.log().string() + "'); db.row_factory = sqlite3.Row\n"
        "kept = db.execute('SELECT * FROM try WHERE sitting = 1 ORDER BY number').fetchall()\n"
        "assert d['sitting']['student'] == 'Ines' and len(d['tries']) == 60 and d['totals']\n"
        "for row, one in zip(d['tries'], kept):\n"
        "    for name in one.keys():\n"
        "        if name in ('sitting', 'at_ms', 'task'): continue\n"
        "        value = whole(one[name]) if name == 'take_file' else one[name]\n"
        "        assert row[name] == value, (name, row[name], value)\n"
        "    at = datetime.datetime.fromisoformat(row['at'].replace('Z', '+00:00'))\n"
        "    assert round(at.timestamp() * 1000) == one['at_ms'], row['at']\n"
        "print('same')\n";
    CHECK(home.python("log 1 --json", whole + json) == "same\n");
}

TEST_CASE("a setting that is wrong is said, and the log is shown all the same") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0)});
    std::filesystem::create_directories(home.folder / "config/landfall");
    writeText(home.folder / "config/landfall/settings.toml", "log = 5\n");
    const auto ran = home.landfall("log");
    CHECK(ran.status == 0);
    CHECK(ran.output.find("settings.toml:1: log: expected a file's name in quotes; the default is used\n")
          != std::string::npos);
    CHECK(ran.output.find("Ines") != std::string::npos);
}

TEST_CASE("names, paths, options and a log's own text steer no terminal, whatever they hold") {
    // ISO/IEC 6429 (ECMA-48): ESC, CSI as C1 in UTF-8 and alone, an OSC that sets a title, BEL, DEL, backspace.
    const std::string steering =
        "\x1b[2J \xc2\x9b"
        "31m \x9b"
        "31m \x1b]0;x\a \x7f \b \r.";
    const Home home;
    home.play("Ines " + steering, {halfUp(1, -22.0), halfUp(2, std::nullopt)});
    {
        auto log = Log::open(home.log(), Log::Access::write);
        REQUIRE(log);
        LoggedTry odd = halfUp(3, 4.0);
        odd.drill = odd.landing.sentence = odd.takeFile = steering;
        Sitting sitting;
        sitting.student = sitting.software = sitting.input = sitting.guitar.name = steering;
        REQUIRE(log->put(sitting, odd));
    }
    const auto settings = home.folder / "config/landfall/settings.toml";
    std::filesystem::create_directories(settings.parent_path());
    writeText(settings,
              "student = \"\\u001b[2J\\u009b31m\"\n\"\\u001b[2J\" = 1\n[device]\nname = "
              "\"\\u001b[2J\"\n[sound]\noutput = \"\\u009b31m\"\n");
    std::filesystem::create_directories(home.folder / "data/landfall/drills");
    writeText(home.folder / ("data/landfall/drills/" + steering + ".toml"), "name = 1\n");
    std::filesystem::create_directories(home.folder / "data/landfall/phrases");
    writeText(home.folder / ("data/landfall/phrases/" + steering + ".musicxml"), "<" + steering + "/>");
    const std::string odd = "'" + (home.folder / steering).string() + "'", text = "'" + steering + "'";
    writeText(home.folder / steering, "no sound, no log, no drill");
    const std::string mute = (home.folder / ("mute" + steering + ".wav")).string();
    const auto made =
        runCommand(fmt::format("python3 -c 'import sys, wave\nw = wave.open(sys.argv[1], \"wb\"); w.setparams((2, 2, "
                               "48000, 0, \"NONE\", \"\"));"
                               " w.writeframes(bytes(48000))' '{}' 2>&1",
                               mute));
    REQUIRE_MESSAGE(made.status == 0, made.output);
    for (const std::string& arguments :
         {std::string("log"),
          std::string("log --csv"),
          std::string("log --json"),
          std::string("log 1"),
          std::string("log 2"),
          std::string("log 2 --csv"),
          std::string("log 2 --json"),
          "log " + text,
          "log --student " + text,
          "report " + text + " -o '" + (home.folder / "r.html").string() + "'",
          "report " + text + " --since " + text + " --json",
          "report 'Ines " + steering + "' --csv",
          "report 'Ines " + steering + "' --json",
          "report 'Ines " + steering + "' -o '" + (home.folder / ("r" + steering + ".html")).string() + "'",
          "report Ines -o '" + (home.folder / steering).string() + "/x.html'",
          "log --strike " + text,
          "log --restore '1.1" + steering + "'",
          "log --log " + odd,
          "log --log '" + (home.folder / steering).string() + "x'",
          "log --log '" + (home.folder / steering).string() + "/x'",
          std::string("check"),
          "check --log '" + (home.folder / steering).string() + "x'",
          std::string("drills"),
          "drills " + text,
          "drills " + odd,
          "drills " + odd + ".toml",
          "drills --tuning " + text,
          "drills --capo " + text,
          std::string("phrases"),
          "phrases " + text,
          "phrases " + odd,
          "phrases " + odd + ".musicxml",
          "phrases 'two stairs down' --midi '" + (home.folder / steering).string() + ".mid'",
          "mark " + odd + " --move bend:D4:E4",
          "mark '" + mute + "' --move bend:D4:E4",
          "mark '" + mute + "' --move " + text,
          "mark '" + mute + "' --drill " + text,
          "mark '" + mute + "' --move bend:D4:E4 --target " + text,
          "mark '" + mute + "' --move bend:D4:E4 --aim " + text,
          "mark '" + mute + "' --move bend:D4:E4 --tuning " + text,
          "track " + odd,
          "track '" + mute + "'",
          "track '" + mute + "' --stream " + text,
          "practise --input '" + mute + "' --student " + text,
          "practise --input " + odd,
          "practise --input '" + mute + "' --log '" + (home.folder / steering).string() + "z'",
          "practise --device " + text + " --rate " + text,
          "practise " + text,
          "demo --tries 1 --student " + text + " --log '" + (home.folder / steering).string() + "y'",
          "--size " + text,
          "'--" + steering + "'",
          text,
          "log " + text + " " + text,
          "--words '" + odd.substr(1, odd.size() - 2) + "/x' --size 1280x800"}) {
        CAPTURE(printable(arguments));
        const auto ran = home.landfall(arguments);
        CHECK(ran.status < 128);
        CHECK_MESSAGE(printableLines(ran.output) == ran.output, printableLines(ran.output));
        const bool csv = arguments.find("--csv") != std::string::npos;  // its lines end so (RFC 4180)
        CHECK((csv || ran.output.find('\r') == std::string::npos));
    }
}

TEST_CASE("every try of the simulated student has its task, its level, and a curve that holds where it landed") {
    const Home home;
    std::filesystem::create_directories(home.log().parent_path());
    const auto ran = home.landfall("demo --tries 4 --log '" + home.log().string() + "'");
    REQUIRE_MESSAGE(ran.status == 0, ran.output);
    const std::string program =
        "import sqlite3, statistics, struct, zlib\n"
        "db = sqlite3.connect('" + home.log().string() + "')\n"
        "tries = db.execute('SELECT t.landing_error_cents, t.landing_time_s - t.onset_s, t.end_s - t.onset_s, t.told, '\n"
        "    't.level_db, k.name, t.drill, c.points, t.target_cents, t.to_midi, t.pass, t.stroke FROM try t JOIN task k ON k.id = '\n"
        "    't.task JOIN curve c ON c.sitting = t.sitting AND c.number = t.number').fetchall()\n"
        "assert len(tries) == db.execute('SELECT count(*) FROM try').fetchone()[0] == 12\n"
        "off = []\n"
        "for error, arrival, end, told, level, task, drill, packed, target, to, in_pass, stroke in tries:\n"
        "    data = zlib.decompress(packed); at = cents = 0; curve = []\n"
        "    for i in range(1, len(data), 4):\n"
        "        step, change = struct.unpack_from('<hh', data, i); at += step\n"
        "        if change != -32768: cents += change; curve.append((at / 1000, cents / 10))\n"
        "    held = [c for t, c in curve if arrival + .06 <= t <= arrival + .31]\n"
        "    assert len(held) > 20\n"
        "    off.append(abs(statistics.median(held) - error))\n"
        "    assert curve[0][0] >= 0 and curve[-1][0] <= end + .001 and told in ('live', 'after') and -60 < level < 0\n"
        "    assert task == drill and target == 100 * to and in_pass >= 1 and stroke == 'picked'\n"
        // A correction or another event cuts the hold that was marked.
        "assert statistics.median(off) < .5 and sum(each < 1 for each in off) >= 9, off\n"
        "print('sound')\n";
    CHECK(home.python("log", program) == "sound\n");
}

TEST_CASE("a report is a file of its owner's alone, and what cannot be done is one line") {
    const Home home;
    home.play("Ines", {halfUp(1, -12.0), halfUp(2, -20.0)});
    const std::string to = (home.folder / "ines.html").string();
    CHECK(home.landfall("report ines -o '" + to + "'").output == "The report is in " + to + ".\n");
    CHECK(readText(to).find("<bdi>Ines</bdi>") != std::string::npos);
    CHECK(std::filesystem::status(to).permissions()
          == (std::filesystem::perms::owner_read | std::filesystem::perms::owner_write));
    CHECK(home.landfall("report Ines --since 2027-03-06 -o '" + to + "'").status == 0);
    CHECK(readText(to).find("No sitting since 2027-03-06.") != std::string::npos);
    const auto said = [&](const std::string& arguments, int status, const std::string& line) {
        const auto ran = home.landfall(arguments);
        CAPTURE(arguments);
        CHECK(ran.status == status);
        CHECK_MESSAGE(ran.output.find(line) == 0, ran.output);
    };
    said("report Mara -o x.html", 1, "landfall: there is no student 'Mara' in the log: it has Ines\n");
    said("report Ines", 2, "landfall: say where the report goes: -o FILE.html (or --csv, --json)\n");
    said("report Ines --since yesterday --json", 2,
         "landfall: --since: 'yesterday' is not a date: write year, month and day, such as 2027-03-01");
    said("report Ines --since 2027-02-30 --json", 2, "landfall: --since: '2027-02-30' is not a date");
    said("report Ines -o " + home.folder.path.string() + "/none/x.html", 1, "landfall: ");
    CHECK(
        home.python("report Ines --json", "import json, sys\nprint(json.load(open(sys.argv[1]))['report']['tries'])\n")
        == "2\n");
}
