// The program as a player runs it: sound in at one end, marks, log and exit status out at the other.
#include <doctest/doctest.h>

#include <sys/mount.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <sndfile.h>

#include "dsp/quantise.h"
#include "src/audio/simulated_player.h"
#include "src/formats/drill_file.h"
#include "src/practice/tally.h"
#include "tests/support/command.h"
#include "tests/support/measured_tone.h"
#include "tests/support/program.h"
#include "tests/support/sound_server.h"
#include "tests/support/students.h"
#include "tests/support/wav_file.h"

using namespace landfall;
using namespace landfall::test;

namespace {

constexpr double rate = 48000.0;

// Settings and log of a player's own, so that nothing of this machine's is read or written.
std::string at(const TestFolder& folder) {
    return fmt::format("XDG_CONFIG_HOME={0}/config XDG_DATA_HOME={0}/data ", folder.path.string());
}

CommandOutcome landfallIn(const TestFolder& folder, const std::string& words) {
    return runCommand(at(folder) + LANDFALL_PROGRAM + " " + words + " 2>&1 < /dev/null");
}

// Errors prescribed for half-step bends at the first place of "Half up".
std::vector<MoveTruth> recordBends(const std::filesystem::path& file, const std::vector<double>& errors,
                                   std::uint32_t seed) {
    SimulatedPlayer player({.sampleRate = rate, .seed = seed, .skill = exactPlayer()});
    const auto drill = findDrill("Half up");
    REQUIRE(drill);
    const auto moves = movesAt(*drill, Guitar{}, drill->places.front());
    REQUIRE(moves);
    for (const double error : errors) {
        player.rest(Seconds(0.9));
        player.play(*moves, {.firstStopError = Cents(error)});
        player.rest(Seconds(0.9));
    }
    std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
    player.read(samples);
    quantise(samples);
    writeWav(file, rate, samples);
    return player.truths();
}

std::vector<float> readWav(const std::filesystem::path& file) {
    SF_INFO info{};
    SNDFILE* in = sf_open(file.c_str(), SFM_READ, &info);
    REQUIRE(in != nullptr);
    std::vector<float> samples(static_cast<std::size_t>(info.frames * info.channels));
    sf_readf_float(in, samples.data(), info.frames);
    sf_close(in);
    return samples;
}

std::vector<nlohmann::json> triesOf(const TestFolder& folder, const std::string& log) {
    const auto printed = landfallIn(folder, "log last --json --log " + log);
    REQUIRE(printed.status == 0);
    return nlohmann::json::parse(printed.output)["tries"].get<std::vector<nlohmann::json>>();
}

// Two tries through the server, which is then killed and started again; two more.
template <typename Server>
void checkSittingOutlives(Server& server) {
    TestFolder folder;
    const std::string first = (folder / "first.wav").string(), second = (folder / "second.wav").string(),
                      log = (folder / "log").string();
    recordBends(first, {-20.0, 12.0}, 21);
    recordBends(second, {33.0, -7.0}, 22);
    REQUIRE(server.up());
    auto feeder = std::make_unique<Program>(std::vector<std::string>{LANDFALL_JACK_FEEDER, first, "--name", "guitar"});
    Program sitting({"/bin/sh", "-c",
                     "exec env " + at(folder) + LANDFALL_PROGRAM
                         + " practise 'Half up' --device 'JACK: guitar' --skip-check --no-tone --tries 4 --log " + log
                         + " > " + (folder / "said").string() + " 2>&1"});
    const auto logged = [&] {
        const auto printed = landfallIn(folder, "log last --json --log " + log);
        return printed.status == 0 ? nlohmann::json::parse(printed.output)["tries"].size() : 0;
    };
    REQUIRE(within(30.0, [&] { return logged() == 2; }));
    server.end(SIGKILL);
    feeder.reset();
    pauseFor(1.5);
    REQUIRE(server.start());
    feeder = std::make_unique<Program>(std::vector<std::string>{LANDFALL_JACK_FEEDER, second, "--name", "guitar"});
    CHECK(within(40.0, [&] { return !sitting.running(); }));
    const std::string said = readText(folder / "said");
    CAPTURE(said);
    CHECK(sitting.exitStatus() == 0);
    REQUIRE(logged() == 4);
    const auto tries = triesOf(folder, log);
    // 1 cent: the tries of another file, cut at another sample.
    CHECK(std::abs(tries[2]["first_stop_error_cents"].get<double>() - 33.0) < 1.0);
    CHECK(std::abs(tries[3]["first_stop_error_cents"].get<double>() + 7.0) < 1.0);
    CHECK(std::count(said.begin(), said.end(), '\n') < 60);  // a lost device floods nothing
}

}  // namespace

TEST_CASE("the demo plays thirty tries, marks only those that were played, and logs them where a log is named") {
    TestFolder folder;
    const auto demo = landfallIn(folder, "demo");
    CAPTURE(demo.output);
    CHECK(demo.status == 0);
    CHECK(demo.output.find("30 tries marked: 30 that the student played, 0 that she did not.") != std::string::npos);
    const std::string log = (folder / "log.sqlite").string();
    CHECK(landfallIn(folder, "demo --log " + log).status == 0);
    CHECK(triesOf(folder, log).size() == 30);
    for (const auto& each : triesOf(folder, log)) {
        if (each["landing_error_cents"].is_null()) continue;
        CHECK(each["level_db"].get<double>() < 0.0);
        CHECK(each["brightness"].get<double>() >= 1.0);
        CHECK(each["brightness"].get<double>() < 6.0);
    }
    // A player's own log has no row of it.
    CHECK(demo.output.find("Her tries are not kept (--log FILE keeps them)") != std::string::npos);
    const auto practised = landfallIn(folder, "practise 'Half up' --input simulated --unpaced --skip-check --tries 3");
    CHECK(practised.output.find("What the simulated student played is not kept") != std::string::npos);
    CHECK(practised.output.find("B string · fret 8  ") != std::string::npos);  // and still seen at the end
    CHECK_FALSE(std::filesystem::exists(folder / "data/landfall/log.sqlite"));
}

TEST_CASE("a drill that this guitar has no fret for is refused before the strings are checked") {
    TestFolder folder;
    std::ofstream(folder / "high.toml") << "name = \"High\"\n[[step]]\ngesture = \"note\"\n"
                                        << "[[place]]\nstring = 2\nfrets = 30\n";
    const auto refused =
        landfallIn(folder, "practise " + (folder / "high.toml").string() + " --input simulated --unpaced");
    CAPTURE(refused.output);
    CHECK(refused.status != 0);
    CHECK(refused.output.find("'High' cannot be played now: ") != std::string::npos);
    CHECK(refused.output.find("String check") == std::string::npos);
}

TEST_CASE("tries of several strings are in the log string by string, each with its curve") {
    TestFolder folder;
    const std::string log = (folder / "log.sqlite").string();
    const auto practised = landfallIn(
        folder, "practise 'Side by side' --input simulated --unpaced --skip-check --tries 4 --seed 3 --log " + log);
    CAPTURE(practised.output);
    CHECK(practised.status == 0);
    CHECK(practised.output.find("G 7 + B 7 · note") != std::string::npos);
    const auto tries = triesOf(folder, log);
    REQUIRE(tries.size() == 4);
    for (const auto& each : tries) {
        const std::string strings = each["strings"];
        CHECK(strings.starts_with("note 62 62 3 7 - "));
        CHECK(strings.find("; note 66 66 2 7 - ") != std::string::npos);
    }
    // Where a string was missed none counts, and no curve is kept.
    const auto missed = std::count_if(tries.begin(), tries.end(), [](const auto& each) {
        return each["sentence"].template get<std::string>().find("did not sound") != std::string::npos;
    });
    const auto curves = runCommand("sqlite3 '" + log + "' 'SELECT count(*) FROM curve WHERE length(points) > 20'");
    CHECK(curves.output == fmt::format("{}\n", 4 - missed));
}

TEST_CASE("a recording of bends is practised, marked and logged with the errors that were played") {
    TestFolder folder;
    const auto truths = recordBends(folder / "take.wav", {-30.0, 4.0, 22.0, -8.0}, 5);
    const auto played = landfallIn(
        folder, "practise 'Half up' --input " + (folder / "take.wav").string() + " --log " + (folder / "log").string());
    CAPTURE(played.output);
    CHECK(played.status == 0);
    const auto tries = triesOf(folder, (folder / "log").string());
    REQUIRE(tries.size() == truths.size());
    for (std::size_t i = 0; i < tries.size(); ++i)
        // The synthesiser's truth is exact; half a cent is the tracker's own spread on a clean string.
        CHECK(std::abs(tries[i]["first_stop_error_cents"].get<double>() - truths[i].firstStopError->value) < 0.5);
    // Four clear notes: the B string's stiffness is kept with the guitar, the others are not known.
    CHECK(readText(folder / "config/landfall/settings.toml").find("stiffness = [ 0.0, ") != std::string::npos);
}

TEST_CASE("the end of a drill, the log and a recording's marks tell the same figures of the same tries") {
    TestFolder folder;
    const std::string drill = (folder / "mine.toml").string(), take = (folder / "take.wav").string(),
                      log = (folder / "log").string();
    writeText(drill,
              "name = \"Mine\"\ntrains = \"Both ways.\"\nhow = \"Bend and release.\"\ntries = 4\nsets = 1\nrest_s = "
              "20\nguided = 0\n"
              "[[step]]\ngesture = \"bend\"\nfrom = 0\nto = 1\n[[step]]\ngesture = \"release\"\nfrom = 1\nto = 0\n"
              "[[place]]\nstring = 2\nfrets = 8\n");
    SimulatedPlayer player({.sampleRate = rate, .seed = 8, .skill = exactPlayer()});
    const auto moves = movesAt(readDrillFile(drill).value(), Guitar{}, {2, 8}).value();
    for (const double error : {-30.0, 4.0, -33.0, 12.0}) {
        player.rest(Seconds(0.9));
        player.play(moves, {.firstStopError = Cents(error)});
        player.rest(Seconds(0.9));
    }
    std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
    player.read(samples);
    quantise(samples);
    writeWav(take, rate, samples);

    const auto played = landfallIn(folder, "practise " + drill + " --skip-check --input " + take + " --log " + log);
    CAPTURE(played.output);
    REQUIRE(played.status == 0);
    std::vector<GestureTally> logged;
    const auto printed = nlohmann::json::parse(landfallIn(folder, "log last --json --log " + log).output);
    for (const auto& row : printed["totals"])
        logged.push_back({.gesture = parseGesture(row["gesture"].get<std::string>()).value(),
                          .tries = row["tries"],
                          .guided = row["guided"],
                          .notCounted = row["not_counted"],
                          .counted = row["counted"],
                          .inside = row["inside"],
                          .lost = row["lost"],
                          .typicalMiss = Cents(row["median_miss_cents"].get<double>()),
                          .typicalError = Cents(row["median_error_cents"].get<double>()),
                          .typicalLinger = {}});
    REQUIRE(logged.size() == 2);
    // The errors are the last step's.
    CHECK(logged[0].inside == 4);
    CHECK(logged[1].counted == 4);
    CHECK(logged[1].inside == 2);
    CHECK(std::abs(logged[1].typicalMiss->value - 21.0) < 0.5);  // 4 12 30 33
    const std::string said = whole(wordsOf(logged, Cents(25.0)));
    CAPTURE(said);
    CHECK(played.output.find("\n" + said + "\n") != std::string::npos);
    const auto marked = landfallIn(folder, "mark " + take + " --drill " + drill + " --summary");
    CAPTURE(marked.output);
    CHECK(marked.output.find("\n8 of 8 moves landed. " + said + "\n") != std::string::npos);
}

TEST_CASE("bends played at another fret than asked are told what was heard, and none is logged") {
    TestFolder folder;
    recordBends(folder / "take.wav", {-30.0, 4.0}, 5);  // on fret 8
    const auto played = landfallIn(folder, "practise 'Whole up' --input " + (folder / "take.wav").string());
    CAPTURE(played.output);
    CHECK(played.status == 0);
    CHECK(played.output.find("  That was fret 8. Play fret 10.\n") != std::string::npos);
    CHECK(played.output.find("Nothing played.") != std::string::npos);
    CHECK(played.output.find("Saved in") == std::string::npos);
}

TEST_CASE("wrong use and bad input end in one line with the thing's name and status 1 or 2") {
    TestFolder folder;
    writeText(folder / "words.wav", "this is no sound\n");
    writeText(folder / "empty.wav", "");
    const std::string folderName = folder.path.string();
    const std::vector<std::tuple<std::string, int, std::string>> cases{
        {"practise 'Sideways up'", 1, "Sideways up"},
        {"practise 'Half up' --input " + folderName + "/none.wav", 1, "none.wav"},
        {"practise 'Half up' --input " + folderName + "/words.wav", 1, "words.wav"},
        {"mark " + folderName + "/empty.wav --move bend:D4:E4", 1, "empty.wav"},
        {"mark " + folderName + "/words.wav --move bend:D4:H4", 2, "H4"},
        {"log --student Nobody", 1, "log"},
        {"practise 'Half up' --rate 7", 2, "--rate"},
        {"practise --sideways", 2, "--sideways"},
        {"practise --target sideways", 2, "sideways"},
        {"mark " + folderName + "/empty.wav --move note:B4+D4", 2, "low note"},
        {"mark " + folderName + "/empty.wav --move note:D4+B4", 1, "empty.wav"},
        {"mark " + folderName + "/empty.wav --move note:D4+B4 --target start-note", 2, "--target"},
        {"mark " + folderName + "/empty.wav --move note:D4 --target just", 2, "note:D4"},
        {"mark " + folderName + "/empty.wav --move bend:D4:E4 --target just", 2,
         "--target just is for moves of several"},
        {"mark " + folderName + "/words.wav --drill 'Sideways up'", 1, "Sideways up"},
        {"mark " + folderName + "/empty.wav --phrase 'two stairs down'", 1, "empty.wav"},
        {"mark " + folderName + "/words.wav --phrase 'Sideways up'", 1, "Sideways up"},
        {"mark " + folderName + "/words.wav --phrase 'two stairs down' --move bend:D4:E4", 2, "--move"},
        {"mark " + folderName + "/words.wav --phrase 'two stairs down' --tempo 7", 2, "--tempo"},
        {"mark " + folderName + "/words.wav --phrase 'two stairs down' --target 'start note'", 2, "--target"},
        {"mark " + folderName + "/words.wav --move bend:D4:E4 --tempo 70", 2, "--phrase"},
        {"drills --tuning sideways", 2, "sideways"},
        {"mark " + folderName + "/words.wav --move bend:D4:E4 --a4 nan", 2, "nan"},
        {"\"$(printf 'side\\nways')\"", 2, "side?ways"},
        {"log sideways --log " + folderName + "/none.sqlite", 1, "none.sqlite"},
        {"nonsense", 2, "nonsense"},
    };
    for (const auto& [words, status, named] : cases) {
        CAPTURE(words);
        const auto ended = landfallIn(folder, words);
        CAPTURE(ended.output);
        CHECK(ended.status == status);
        CHECK(ended.output.find(named) != std::string::npos);
        CHECK(std::count(ended.output.begin(), ended.output.end(), '\n') == 1);
    }
    const auto checked = landfallIn(folder, "check --log " + std::string(300, 'a'));
    CHECK(checked.status == 1);
    CHECK(checked.output.find("there is no log aaa") != std::string::npos);
    for (const std::string words : {"drills", "drills --json"}) {
        CAPTURE(words);
        const auto ended = runCommand(at(folder) + LANDFALL_PROGRAM + " " + words + " 2>&1 > /dev/full");
        CHECK(ended.status == 1);
        CHECK(ended.output.starts_with("landfall: "));
        CHECK(std::count(ended.output.begin(), ended.output.end(), '\n') == 1);
    }
}

TEST_CASE("a recording without the move asked says what it holds instead, and which moves are missing") {
    TestFolder folder;
    recordBends(folder / "take.wav", {-30.0, 4.0}, 5);  // G4 to G sharp 4
    const std::string mark = "mark " + (folder / "take.wav").string();
    const auto other = landfallIn(folder, mark + " --move bend:D4:E4");
    CAPTURE(other.output);
    CHECK(other.status == 0);
    CHECK(other.output.starts_with("The move was not heard.\n\nNot heard:\n  move 1   bend D4 – E4"));
    CHECK(other.output.find("\nHeard instead") != std::string::npos);
    CHECK(other.output.find(" s  G4") != std::string::npos);
    CHECK(other.output.find("G♯4 30 under") != std::string::npos);
    const auto one = landfallIn(folder, mark + " --move bend:G4:G#4 --move bend:G4:G#4 --move bend:D4:E4");
    CAPTURE(one.output);
    CHECK(one.output.find("\n2 of 3 moves landed.") != std::string::npos);
    CHECK(one.output.find("\nNot heard:\n  move 3   bend D4 – E4") != std::string::npos);
    const auto both = landfallIn(folder, mark + " --move bend:G4:G#4 --move bend:G4:G#4");
    CHECK(both.output.find("Not heard") == std::string::npos);
}

TEST_CASE("the help of each command lists what it takes, with examples, in lines that a terminal holds") {
    TestFolder folder;
    for (const std::string command : {"", "practise", "demo", "drills", "phrases", "devices", "log", "students",
                                      "guitars", "export", "import", "report", "next", "mark", "check", "track"}) {
        CAPTURE(command);
        const auto help = landfallIn(folder, command + " --help");
        CHECK(help.status == 0);
        CHECK(help.output.find("\nExamples:\n  landfall") != std::string::npos);
        for (const char* library : {"TEXT", "INT", "UINT", "FLOAT", "Excludes", "Needs", "REQUIRED", "Option Group"})
            CHECK(help.output.find(library) == std::string::npos);
        std::istringstream lines(help.output);
        for (std::string line; std::getline(lines, line);) CHECK(line.size() <= 110);
    }
    const auto mark = landfallIn(folder, "mark --help").output;
    for (const char* value : {"bend", "release", "pre-bend", "slide", "vibrato", "concert", "'start note'",
                              "'own guitar'", "'drop D'", "430 to 450", "1 to 100 cents"})
        CHECK_MESSAGE(mark.find(value) != std::string::npos, value);
    CHECK(mark.find("--help") == mark.rfind("--help"));  // said once
    CHECK(landfallIn(folder, "practise --help").output.find("'Half up', 'Hear it, then reach it'")
          != std::string::npos);
}

TEST_CASE("a silent and a clipping recording are marked, with one line that says what is wrong with them") {
    TestFolder folder;
    const auto write = [](const std::filesystem::path& file, float level) {
        std::vector<float> samples(48000);
        for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = i / 60 % 2 == 0 ? level : -level;
        writeWav(file, rate, samples);
    };
    write(folder / "silent.wav", 0.0f);
    write(folder / "loud.wav", 1.0f);
    const auto silent = landfallIn(folder, "mark " + (folder / "silent.wav").string() + " --move bend:D4:E4 --summary");
    CHECK(silent.status == 0);
    CHECK(silent.output.find("silent.wav: channel 1 is silent") != std::string::npos);
    CHECK(silent.output.find("No note was heard at all.") != std::string::npos);
    const auto loud = landfallIn(folder, "mark " + (folder / "loud.wav").string() + " --move bend:D4:E4 --summary");
    CHECK(loud.status == 0);
    CHECK(loud.output.find("loud.wav: clips in") != std::string::npos);
}

TEST_CASE("a disk that fills in mid-sitting loses nothing: the sitting is saved elsewhere, and said") {
    TestFolder folder;
    std::filesystem::create_directory(folder / "small");
    if (mount("landfall-test", (folder / "small").c_str(), "tmpfs", 0, "size=128k") != 0) {
        MESSAGE("SKIPPED: this user may not mount a small disk");
        return;
    }
    // Leaves room for a log with a few tries.
    runCommand("head -c 40000 /dev/zero > " + (folder / "small/ballast").string());
    const auto played = runCommand("TMPDIR=" + folder.path.string() + " " + at(folder) + LANDFALL_PROGRAM
                                   + " practise 'Half up' --input simulated --unpaced --skip-check --tries 18 --log "
                                   + (folder / "small/log").string() + " 2>&1 < /dev/null");
    umount2((folder / "small").c_str(), MNT_DETACH);
    CAPTURE(played.output);
    CHECK(played.status == 1);
    const auto said = played.output.find("This sitting is saved in ");
    REQUIRE(said != std::string::npos);
    const std::string rest = played.output.substr(said + 25);
    CHECK(triesOf(folder, rest.substr(0, rest.find(". See"))).size() >= 18);
}

TEST_CASE("killed 20 times at random moments, everything that the terminal said of a try is in the log") {
    // of noodling, and what is asked in a set by ear
    const auto ofNoTry = [](const std::string& line) {
        for (const char* part : {"By ear", " Play fret ", " Start on ", " Now bend it.", "Is another string ringing?",
                                 "Is the string in tune?"})
            if (line.find(part) != std::string::npos) return true;
        return line.starts_with("  try ");
    };
    std::mt19937 random(7);
    std::uniform_real_distribution<double> moment(0.0, 2.0);  // s, from the first try asked
    std::size_t told = 0;
    for (int run = 0; run < 20 || (told < 20 && run < 60); ++run) {  // more where the machine is busy
        CAPTURE(run);
        TestFolder folder;
        const std::string log = (folder / "log").string();
        Program sitting({"/bin/sh", "-c",
                         "exec env " + at(folder) + LANDFALL_PROGRAM
                             + " practise --input simulated --unpaced --skip-check --log " + log + " > "
                             + (folder / "said").string() + " 2>&1"});
        REQUIRE(within(60.0, [&] { return readText(folder / "said").find("try 1 of") != std::string::npos; }));
        pauseFor(moment(random));
        sitting.kill();
        std::vector<std::string> said;
        bool asked = false;
        std::istringstream lines(readText(folder / "said"));
        for (std::string line; std::getline(lines, line); asked = asked || line.find("try 1 of") != std::string::npos) {
            if (asked && line.starts_with("   ")) break;  // the head of the table at a drill's end
            if (asked && line.starts_with("  ") && !line.ends_with("...") && !lines.eof() && !ofNoTry(line))
                said.push_back(line.substr(2));
        }
        told += said.size();
        if (said.empty()) continue;
        const auto tries = triesOf(folder, log);
        REQUIRE(tries.size() >= said.size());
        for (std::size_t i = 0; i < said.size(); ++i) CHECK(tries[i]["sentence"] == said[i]);
    }
    CHECK(told >= 20);
}

TEST_CASE("an interrupt ends a sitting with everything in the log") {
    TestFolder folder;
    const std::string log = (folder / "log").string();
    Program sitting({"/bin/sh", "-c",
                     "exec env " + at(folder) + LANDFALL_PROGRAM
                         + " practise 'Half up' --input simulated --skip-check --log " + log + " > "
                         + (folder / "said").string() + " 2>&1"});
    REQUIRE(within(60.0, [&] {
        return landfallIn(folder, "log last --json --log " + log).output.find("\"tries\"") != std::string::npos;
    }));
    sitting.ask(SIGINT);
    CHECK(within(10.0, [&] { return !sitting.running(); }));
    CHECK(sitting.exitStatus() == 0);
    CHECK(readText(folder / "said").find("Saved in") != std::string::npos);
}

TEST_CASE("live sound through a sound server gives the same landings as the file it was played from") {
    if (!JackServer::installed()) {
        MESSAGE("SKIPPED: no jackd here");
        return;
    }
    TestFolder folder;
    const std::string take = (folder / "take.wav").string();
    recordBends(take, {-31.0, 6.0, 17.0}, 9);
    REQUIRE(landfallIn(folder, "practise 'Half up' --input " + take + " --log " + (folder / "file-log").string()).status
            == 0);
    const auto fromFile = triesOf(folder, (folder / "file-log").string());
    REQUIRE(fromFile.size() == 3);

    std::vector<nlohmann::json> fromDevice;
    for (int attempt = 1; fromDevice.empty(); ++attempt) {
        JackServer server(static_cast<int>(rate), 1024);
        REQUIRE(server.up());
        const std::string fed = (folder / "fed").string(),
                          log = (folder / fmt::format("live-log-{}", attempt)).string();
        Program feeder(
            {"/bin/sh", "-c", std::string("exec ") + LANDFALL_JACK_FEEDER + " " + take + " --name guitar > " + fed});
        const auto live = runCommand(at(folder) + "timeout -s INT 60 " + LANDFALL_PROGRAM
                                     + " practise 'Half up' --device 'JACK: guitar' --skip-check --no-tone --tries 3 "
                                       "--log "
                                     + log + " 2>&1 < /dev/null");
        CAPTURE(live.output);
        const auto tries = triesOf(folder, log);
        if (live.status == 0 && tries.size() == fromFile.size()) fromDevice = tries;
        // What a busy server dropped is played again.
        else REQUIRE((attempt < 3 && readText(fed).find("late") != std::string::npos));
    }
    REQUIRE(fromDevice.size() == fromFile.size());
    for (std::size_t i = 0; i < fromFile.size(); ++i) {
        CHECK(fromDevice[i]["verdict"] == fromFile[i]["verdict"]);
        // The stream starts at another sample than the file, so the tracker's hops fall elsewhere: its own spread, a
        // few hundredths.
        for (const char* quantity : {"first_stop_error_cents", "landing_error_cents"})
            CHECK(std::abs(fromDevice[i][quantity].get<double>() - fromFile[i][quantity].get<double>()) < 0.3);
    }
}

TEST_CASE(
    "the test tone arrives at another program: the reference A, quiet at first, never louder than the settings' "
    "level") {
    if (!JackServer::installed()) {
        MESSAGE("SKIPPED: no jackd here");
        return;
    }
    TestFolder folder;
    JackServer server(static_cast<int>(rate), 1024);
    REQUIRE(server.up());
    Program check({"/bin/sh", "-c",
                   "exec env " + at(folder) + LANDFALL_PROGRAM + " check --tone --device 'JACK: system' > "
                       + (folder / "said").string() + " 2>&1"});
    REQUIRE(within(
        20.0, [] { return runCommand("jack_lsp 2>/dev/null").output.find("Landfall:out_0") != std::string::npos; }));
    Program recorder({"jack_rec", "-f", (folder / "heard.wav").string(), "-d", "6", "-b", "24", "Landfall:out_0"});
    CHECK(within(20.0, [&] { return !check.running() && !recorder.running(); }));
    const std::string said = readText(folder / "said");
    CAPTURE(said);
    CHECK(check.exitStatus() == 0);
    CHECK(said.find("A4, 440 Hz, on JACK: system") != std::string::npos);

    const auto heard = readWav(folder / "heard.wav");
    REQUIRE(heard.size() > 5 * 48000);
    const auto decibels = [](double amplitude) { return 20.0 * std::log10(amplitude + 1e-9); };
    std::vector<double> levels;
    for (std::size_t i = 0; i + 4800 <= heard.size(); i += 4800) {
        levels.push_back(decibels(peak(std::span(heard).subspan(i, 4800))));
        const double level = levels.back(), before = levels.size() > 1 ? levels[levels.size() - 2] : -180.0;
        // Each step is 10 dB; between them two voices overlap for 60 ms. Silence to the first one is allowed, or to the
        // second, where the recorder is slow to begin.
        if (before > -100.0) CHECK(level < before + 11.0);
        else CHECK(level < -41.0);
    }
    const double loudest = *std::max_element(levels.begin(), levels.end());
    // The settings' sound level, -30 dBFS by default, is the sum of four partials; as sines in phase they peak 2.4 dB
    // below it.
    CHECK(loudest < -30.0);
    CHECK(loudest > -33.0);
    // The loudest step lasts 1.5 s; the measurement needs 0.5 s of it. The server's clock is the tone's own.
    const auto full = std::find_if(levels.begin(), levels.end(), [&](double level) { return level > loudest - 0.3; });
    const auto steady = std::span(heard).subspan(4800 * static_cast<std::size_t>(full - levels.begin()), 24000 + 4800);
    CHECK(std::abs(1200.0 * std::log2(measuredFrequency(steady, 440.0, rate) / 440.0)) < 0.05);
}

TEST_CASE("a test tone whose output is not there, or ends, ends with the line that says so") {
    if (!JackServer::installed() || !PulseServer::installed()) {
        MESSAGE("SKIPPED: no jackd or PulseAudio here");
        return;
    }
    TestFolder folder;
    JackServer jack(static_cast<int>(rate), 1024);
    REQUIRE(jack.up());
    const auto away = landfallIn(folder, "check --tone --device 'JACK: system' --output 'ALSA: away'");
    CHECK(away.status == 1);
    CHECK(away.output.find("no output device \"ALSA: away\": plug it in") != std::string::npos);

    PulseServer server(folder.path);
    REQUIRE(server.up());
    Program check({"/bin/sh", "-c",
                   "exec env " + at(folder) + LANDFALL_PROGRAM
                       + " check --tone --device 'JACK: system' --output 'ALSA: pulse' > " + (folder / "said").string()
                       + " 2>&1"});
    REQUIRE(within(20.0, [&] { return readText(folder / "said").find("very quiet") != std::string::npos; }));
    server.end(SIGKILL);
    CHECK(within(20.0, [&] { return !check.running(); }));
    const std::string said = readText(folder / "said");
    CAPTURE(said);
    CHECK(check.exitStatus() == 1);
    CHECK(said.find("ALSA: pulse: the output ended") != std::string::npos);
}

TEST_CASE("a sound server that ends in mid-sitting is waited for, and the sitting goes on with it") {
    if (!JackServer::installed()) {
        MESSAGE("SKIPPED: no jackd here");
        return;
    }
    JackServer server(static_cast<int>(rate), 1024);
    checkSittingOutlives(server);
}

TEST_CASE("PipeWire that ends in mid-sitting is waited for, and the sitting goes on with it") {
    if (!PipeWireServer::installed()) {
        MESSAGE("SKIPPED: no pipewire here, or not its libjack (pipewire-jack), or no jackd with its tools");
        return;
    }
    TestFolder place;
    PipeWireServer server(place.path);
    checkSittingOutlives(server);
}

TEST_CASE(
    "PulseAudio through ALSA gives the same landings as the file; when it ends it is waited for, and the sitting goes "
    "on") {
    if (!PulseServer::installed()) {
        MESSAGE("SKIPPED: pulseaudio, pactl, paplay or ALSA's plug-in for it (libasound2-plugins) is not here");
        return;
    }
    TestFolder folder;
    const std::string first = (folder / "first.wav").string(), second = (folder / "second.wav").string(),
                      log = (folder / "log").string();
    const auto firstTruths = recordBends(first, {-20.0, 12.0}, 21);
    const auto secondTruths = recordBends(second, {33.0, -7.0}, 22);
    PulseServer server(folder.path);
    REQUIRE(server.up());
    const auto said = [&] { return readText(folder / "said"); };
    std::filesystem::create_directories(folder / "config/landfall");
    writeText(folder / "config/landfall/settings.toml", "[sound]\ntarget_note = false\n");
    Program sitting({"/bin/sh", "-c",
                     "exec env " + at(folder) + LANDFALL_PROGRAM
                         + " practise 'Half up' --device 'ALSA: pulse' --rate 48000 --skip-check --tries 4 --log " + log
                         + " > " + (folder / "said").string() + " 2>&1"});
    const auto logged = [&] {
        const auto printed = landfallIn(folder, "log last --json --log " + log);
        return printed.status == 0 ? nlohmann::json::parse(printed.output)["tries"].size() : 0;
    };
    REQUIRE(within(20.0, [&] { return said().find("ALSA: pulse: channel 1, 48000 Hz") != std::string::npos; }));
    CHECK(said().find("samples a block, no output") != std::string::npos);  // none is wanted
    {
        Program player({"paplay", first});
        CHECK(within(40.0, [&] { return logged() == 2; }));
    }
    server.end(SIGKILL);
    CHECK(within(10.0, [&] { return said().find("It is used again as soon as it is back.") != std::string::npos; }));
    REQUIRE(server.start());
    REQUIRE(within(20.0, [&] { return said().find("back again after") != std::string::npos; }));
    Program player({"paplay", second});
    CHECK(within(40.0, [&] { return !sitting.running(); }));
    CAPTURE(said());
    CHECK(sitting.exitStatus() == 0);
    const auto tries = triesOf(folder, log);
    REQUIRE(tries.size() == 4);
    std::vector<MoveTruth> truths = firstTruths;
    truths.insert(truths.end(), secondTruths.begin(), secondTruths.end());
    // The player resamples nothing, the null sink rounds nothing: half a cent is the tracker's own spread, as with a
    // file.
    for (std::size_t i = 0; i < tries.size(); ++i)
        CHECK(std::abs(tries[i]["first_stop_error_cents"].get<double>() - truths[i].firstStopError->value) < 0.5);
    // under a hundred lines: a lost server floods nothing
    CHECK(runCommand("wc -l < " + (folder / "said").string()).output.size() <= 3);
}

TEST_CASE("without any input device practising says so in one line, at once; a device that was named is waited for") {
    TestFolder folder;
    const std::string silent = "JACK_DEFAULT_SERVER=landfall-no-such-server JACK_NO_START_SERVER=1 ";
    const auto listed = runCommand(silent + at(folder) + LANDFALL_PROGRAM + " devices --json");
    if (listed.output.find("\"inputs\": ") != std::string::npos) {
        MESSAGE("SKIPPED: this machine has a sound device");
        return;
    }
    const auto practise = [&](const std::string& words) {
        return runCommand(silent + "timeout --preserve-status 4 env " + at(folder) + LANDFALL_PROGRAM
                          + " practise 'Half up' " + words + " 2>&1 > " + (folder / "said").string() + " < /dev/null");
    };
    const auto none = practise("");
    CHECK(none.status == 1);
    CHECK(none.output == "landfall: no input device: plug one in, or start its sound server (landfall demo and --input simulated need no device)\n");
    const auto named = practise("--device 'JACK: latecomer'");
    CHECK(named.status == 0);  // asked to end by timeout, it ends in order
    CHECK(named.output == "");
    CHECK(readText(folder / "said")
              .find("no input device \"JACK: latecomer\": plug it in, or close the program that holds it; there are "
                    "none; waiting for it")
          != std::string::npos);
}

TEST_CASE("a rate or a channel that the device refuses ends practising with the one line that says which work") {
    if (!JackServer::installed()) {
        MESSAGE("SKIPPED: no jackd here");
        return;
    }
    TestFolder folder;
    JackServer server(static_cast<int>(rate), 1024);
    REQUIRE(server.up());
    for (const auto& [words, line] : std::vector<std::pair<std::string, std::string>>{
             {"--rate 44100", "landfall: JACK: system: does not run at 44100 Hz; these rates work: 48000"},
             {"--channel 9", "landfall: JACK: system: has 2 input channels, so channel 9 cannot be chosen"}}) {
        CAPTURE(words);
        const auto ended =
            runCommand("timeout 20 env " + at(folder) + LANDFALL_PROGRAM
                       + " practise 'Half up' --device 'JACK: system' " + words + " 2>&1 > /dev/null < /dev/null");
        CHECK(ended.status == 1);
        CHECK(ended.output.starts_with(line));
        CHECK(std::count(ended.output.begin(), ended.output.end(), '\n') == 1);
    }
}
