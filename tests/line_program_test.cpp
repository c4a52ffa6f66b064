// A phrase practised in the terminal, as a player does: sound in at one end, words after each pass out at the other.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "src/formats/phrase_file.h"
#include "tests/support/command.h"
#include "tests/support/played_line.h"
#include "tests/support/program.h"
#include "tests/support/sound_server.h"
#include "tests/support/wav_file.h"

using namespace landfall;
using namespace landfall::test;

namespace {

// Settings of a player's own, so that nothing of this machine's is read or written.
std::string at(const TestFolder& folder) {
    return fmt::format("XDG_CONFIG_HOME={0}/config XDG_DATA_HOME={0}/data ", folder.path.string());
}

CommandOutcome landfallIn(const TestFolder& folder, const std::string& words) {
    return runCommand(at(folder) + LANDFALL_PROGRAM + " " + words + " 2>&1 < /dev/null");
}

std::string written(char step, int string, int fret, const std::string& bend = "") {
    return fmt::format(
        "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice>"
        "<type>quarter</type><notations><technical><string>{}</string><fret>{}</fret>{}</technical></notations></note>",
        step, string, fret, bend);
}

// Two bars of quarters at 100.
std::string score() {
    const auto bend = [](int steps) { return fmt::format("<bend><bend-alter>{}</bend-alter></bend>", steps); };
    return "<?xml version=\"1.0\"?><score-partwise version=\"4.0\"><work><work-title>Up the back stairs</work-title>"
           "</work><part-list><score-part id=\"P1\"><part-name>Guitar</part-name></score-part></part-list><part "
           "id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><time><beats>4</beats>"
           "<beat-type>4</beat-type></time></attributes><direction><sound tempo=\"100\"/></direction>"
           + written('G', 2, 8, bend(2)) + written('E', 2, 5) + written('D', 3, 7) + written('C', 3, 5)
           + "</measure><measure number=\"2\">" + written('G', 2, 8, bend(1)) + written('E', 2, 5) + written('D', 3, 7)
           + written('E', 2, 5) + "</measure></part></score-partwise>";
}

// The score, and a take of it: one pass with its first bend 31 under, then one given up in the second bar.
void prepare(const TestFolder& folder) {
    writeText(folder / "stairs.musicxml", score());
    const auto phrase = readPhrase(folder / "stairs.musicxml");
    REQUIRE(phrase);
    const Line& line = phrase->line;
    REQUIRE(line.moves.size() == 8);
    const HowPlayed asked, not_played{.played = false};
    std::vector<float> all(4 * 48000);  // live, the warm-up is left first
    for (const std::vector<HowPlayed>& how :
         {std::vector<HowPlayed>{{.cents = -31.0}},
          std::vector<HowPlayed>{asked, asked, asked, asked, asked, not_played, not_played, not_played}}) {
        const auto pass = playedLine(line, 100.0, how, 2.5);
        all.insert(all.end(), pass.begin(), pass.end());
    }
    writeWav(folder / "take.wav", 48000.0, all);
}

// Where each of `parts` stands after the one before it in `text`; else the first that does not.
std::string missingIn(const std::string& text, const std::vector<std::string>& parts) {
    std::size_t from = 0;
    for (const std::string& part : parts) {
        const auto found = text.find(part, from);
        if (found == std::string::npos) return part;
        from = found + part.size();
    }
    return "";
}

const std::vector<std::string> saidOfIt{
    "Up the back stairs · 8 moves, 100 quarters a minute",
    "\nbar 1   full step 2/8, note 2/5, note 3/7, note 3/5\nbar 2   half step 2/8, note 2/5, note 3/7, note 2/5\n",
    "Play it when you are ready. A pass ends when you stop.\n",
    "\nPass 1: 8 of 8 landed.\n\nBar 1, beat 1: the full step stopped 31 under\n\nPlayed at 100.\n",
    "\nPass 2: 5 of 8 landed.\n\nBar 2, beat 2: from here on nothing was played, 3 moves\n"};

}  // namespace

TEST_CASE("a recorded phrase is practised pass after pass, with the words of each") {
    TestFolder folder;
    prepare(folder);
    const auto played = landfallIn(folder, "practise --phrase " + (folder / "stairs.musicxml").string() + " --input "
                                               + (folder / "take.wav").string());
    CAPTURE(played.output);
    CHECK(played.status == 0);
    CHECK(missingIn(played.output, saidOfIt) == "");
    CHECK(played.output.find("Pass 3") == std::string::npos);
    // Each bend is a try of the log, by the phrase's title; what was not played is none.
    const auto tries = nlohmann::json::parse(landfallIn(folder, "log last --json").output)["tries"];
    REQUIRE(tries.size() == 4);
    const double errors[] = {-31.0, 0.0, 0.0, 0.0};
    const int numbers[] = {1, 5, 1, 5};
    for (std::size_t i = 0; i < 4; ++i) {
        CAPTURE(tries[i].dump());
        CHECK(tries[i]["drill"] == "Up the back stairs");
        CHECK(tries[i]["gesture"] == "bend");
        CHECK(tries[i]["move"] == numbers[i]);
        // 1 cent: the tracker's own spread on a synthetic string, and more than enough of it.
        CHECK(std::abs(tries[i]["landing_error_cents"].get<double>() - errors[i]) < 1.0);
        CHECK(tries[i]["beat_quarters"] == numbers[i] - 1);  // quarters, one after another
        CHECK(tries[i]["stroke"] == "picked");
        CHECK(tries[i]["asked_quarters_a_minute"].is_null());
        CHECK(std::abs(tries[i]["quarters_a_minute"].get<double>() - 100.0) < 1.0);
        CHECK(std::abs(tries[i]["timing_s"].get<double>()) < 0.010);  // played on the beat; a hop is 3 ms
    }
}

TEST_CASE("a phrase is practised live through a sound server, with the words that its recording has") {
    if (!JackServer::installed()) {
        MESSAGE("SKIPPED: no jackd here");
        return;
    }
    TestFolder folder;
    prepare(folder);
    const std::string keys = (folder / "keys").string(), heard = (folder / "said").string(),
                      fed = (folder / "fed").string();
    REQUIRE(runCommand("mkfifo " + keys).status == 0);
    const auto said = [&] { return readText(folder / "said"); };
    bool right = false;
    for (int attempt = 1; !right; ++attempt) {
        REQUIRE(runCommand(": > " + heard).status == 0);
        JackServer server(48000, 1024);
        REQUIRE(server.up());
        Program feeder(
            {"/bin/sh", "-c",
             fmt::format("exec {} {} --name guitar > {}", LANDFALL_JACK_FEEDER, (folder / "take.wav").string(), fed)});
        Program player(
            {"/bin/sh", "-c",
             fmt::format("exec > {}; until grep -q 'Warm up,' {}; do sleep 0.05; done; echo n; exec sleep 300", keys,
                         heard)});
        Program sitting({"/bin/sh", "-c",
                         "exec env " + at(folder) + LANDFALL_PROGRAM + " practise --phrase "
                             + (folder / "stairs.musicxml").string() + " --device 'JACK: guitar' --skip-check < " + keys
                             + " > " + heard + " 2>&1"});
        right = within(40.0, [&] { return missingIn(said(), saidOfIt) == ""; });
        sitting.ask(SIGINT);
        CHECK(within(10.0, [&] { return !sitting.running(); }));
        CAPTURE(said());
        CHECK(sitting.exitStatus() == 0);
        // What a busy server dropped is played again.
        if (!right) REQUIRE((attempt < 3 && readText(fed).find("late") != std::string::npos));
    }
}

TEST_CASE("what belongs to drills only is refused with a phrase, in one line each") {
    TestFolder folder;
    for (const std::string words : {"'Half up'", "--tries 3", "--keep-takes", "--target 'start note'"}) {
        CAPTURE(words);
        const auto ended = landfallIn(folder, "practise --phrase 'Two stairs down' " + words);
        CAPTURE(ended.output);
        CHECK(ended.status == 2);
        CHECK(std::count(ended.output.begin(), ended.output.end(), '\n') == 1);
    }
    const auto unknown = landfallIn(folder, "practise --phrase 'Two stairs up'");
    CAPTURE(unknown.output);
    CHECK(unknown.status == 1);
    CHECK(unknown.output.find("Two stairs down") != std::string::npos);
}

TEST_CASE("the simulated student practises a phrase at the tempo asked; what failed is looped, and the whole again") {
    TestFolder folder;
    const std::string said = (folder / "said").string(), log = (folder / "log.sqlite").string();
    // Keys as a player types them, each after what it answers to has been said.
    const auto typed = fmt::format(
        "( until grep -q 'Pass 1:' {0}; do sleep 0.05; done;"
        " until grep -q 'Only what failed' {0}; do echo f; sleep 0.2; done;"
        " until grep -q 'The whole line again' {0}; do echo w; sleep 0.2; done; sleep 0.5; echo q ) ",
        said);
    const auto ended = runCommand("touch " + said + "; " + typed + "2>&1 | env " + at(folder) + LANDFALL_PROGRAM
                                  + " practise --phrase 'Two stairs down' --input simulated --seed 5 --tempo 72 "
                                    "--unpaced --log "
                                  + log + " > "
                                  + said + " 2>&1");
    const std::string output = readText(said);
    CAPTURE(output);
    CHECK(ended.status == 0);
    CHECK(missingIn(output, {"Ines · Two stairs down · 17 moves, 72 quarters a minute asked",
                             "The simulated student Ines plays.\n", "Pass 1: ", " of 17 landed", "; 72 asked.",
                             "Only what failed:\nbar ", "The whole line again.", "Saved in "})
          == "");
    // Tries are logged by the phrase's title and the number in the whole line, those of a part too.
    const auto tries = nlohmann::json::parse(landfallIn(folder, "log last --json --log " + log).output)["tries"];
    REQUIRE(tries.size() > 5);
    int parts = 0, timed = 0, sounded = 0;
    for (const auto& each : tries) {
        sounded += each["level_db"].is_number() && each["brightness"].is_number() ? 1 : 0;
        CHECK(each["beat_quarters"].is_number());
        // A part is played at the player's own tempo, and where it was cut together it has no pulse.
        const bool whole = each["quarters_a_minute"].is_number();
        parts += whole ? 0 : 1;
        timed += each["timing_s"].is_number() ? 1 : 0;
        CHECK((whole || each["timing_s"].is_null()));
        CHECK(each["asked_quarters_a_minute"] == (whole ? nlohmann::json(72.0) : nlohmann::json()));
        CHECK(each["drill"] == "Two stairs down");
        CHECK(each["move"].get<int>() >= 1);
        CHECK(each["move"].get<int>() <= 17);
    }
    CHECK(parts > 0);
    CHECK(2 * sounded > static_cast<int>(tries.size()));  // the others were left before .06 s
    CHECK(timed > 3);
}

TEST_CASE("so many passes are played as were asked for, and a bend that is hard on the hand waits to be asked for") {
    TestFolder folder;
    const auto played = landfallIn(
        folder, "practise --phrase 'Lantern Street' --input simulated --seed 2 --unpaced --passes 2 --tempo 90");
    CAPTURE(played.output);
    CHECK(played.status == 0);
    CHECK(played.output.find("Pass 2: ") != std::string::npos);
    CHECK(played.output.find("Pass 3: ") == std::string::npos);
    const auto wrong = landfallIn(folder, "practise 'Half up' --tempo 90");
    CHECK(wrong.status == 2);

    std::string heavy = score();
    const std::string place = "<string>2</string><fret>8</fret>", pitch = "<step>G</step><octave>4</octave>";
    for (std::size_t from = 0; (from = heavy.find(place, from)) != std::string::npos; ++from)
        heavy.replace(from, place.size(), "<string>4</string><fret>10</fret>");
    for (std::size_t from = 0; (from = heavy.find(pitch, from)) != std::string::npos; ++from)
        heavy.replace(from, pitch.size(), "<step>C</step><octave>4</octave>");
    writeText(folder / "heavy.musicxml", heavy);
    const std::string words =
        "practise --input simulated --unpaced --passes 1 --phrase " + (folder / "heavy.musicxml").string();
    const auto refused = landfallIn(folder, words);
    CAPTURE(refused.output);
    CHECK(refused.status == 1);
    CHECK(refused.output.find("D string · fret 10: bending a full step on a wound string is off until you ask for it "
                              "(--heavy does)")
          != std::string::npos);
    CHECK(landfallIn(folder, words + " --heavy").status == 0);
}

TEST_CASE("a phrase that is homework is over after the passes asked, and what was done stands beside them") {
    const TestFolder folder;
    writeText(folder / "two.lesson.toml",
              "title = \"Two passes\"\n[[task]]\nphrase = \"Two stairs down\"\npasses = 2\n");
    const std::string own = fmt::format("--student Ines --log '{}'", (folder / "log.sqlite").string());
    REQUIRE(landfallIn(folder, "practise 'Half up' --tries 1 --skip-check --input simulated --unpaced " + own).status
            == 0);
    REQUIRE(landfallIn(folder, fmt::format("open '{}' {}", (folder / "two.lesson.toml").string(), own)).status == 0);
    const auto played = landfallIn(folder, "practise --homework --skip-check --input simulated --unpaced " + own);
    CHECK(played.status == 0);
    CHECK(played.output.find("Pass 2: ") != std::string::npos);
    CHECK(played.output.find("Pass 3: ") == std::string::npos);
    const auto after = landfallIn(folder, "open " + own);
    CHECK_MESSAGE(after.output.find("done: 2 passes") != std::string::npos, after.output);
}

TEST_CASE("over passes at growing tempo the move that breaks first is told at the end, with the tempo of each pass") {
    TestFolder folder;
    prepare(folder);
    const auto phrase = readPhrase(folder / "stairs.musicxml");
    REQUIRE(phrase);
    std::vector<float> all(48000);
    for (const double tempo : {80.0, 90.0, 100.0, 112.0, 124.0}) {
        std::vector<HowPlayed> how(phrase->line.moves.size());
        if (tempo > 95.0) how[4].cents = -60.0;  // the half step of the second bar, from 100 on
        if (tempo > 115.0) how[0].cents = -70.0;
        const auto pass = playedLine(phrase->line, tempo, how, 2.5);
        all.insert(all.end(), pass.begin(), pass.end());
    }
    writeWav(folder / "faster.wav", 48000.0, all);
    const auto played = landfallIn(folder, "practise --phrase " + (folder / "stairs.musicxml").string() + " --input "
                                               + (folder / "faster.wav").string());
    CAPTURE(played.output);
    CHECK(missingIn(played.output,
                    {"Played at 80.", "Played at 90.", "Played at 100.", "Played at 112.", "Played at 124.",
                     "\nFaster, bar 2, beat 1 breaks first: the half step, from 100 on.\n"})
          == "");
}

TEST_CASE("mark --phrase --svg writes the picture beside the table, and says what cannot be written") {
    TestFolder folder;
    prepare(folder);
    writeWav(folder / "take.wav", 48000.0,
             playedLine(readPhrase(folder / "stairs.musicxml")->line, 100.0, {{.cents = -31.0}}, 1.0));
    const std::string mark =
        "mark " + (folder / "take.wav").string() + " --phrase " + (folder / "stairs.musicxml").string();
    const auto marked = landfallIn(folder, mark + " --summary --svg " + (folder / "stairs.svg").string());
    CAPTURE(marked.output);
    CHECK(marked.status == 0);
    CHECK(marked.output.find("First to mend: Bar 1, beat 1: the full step stopped 31 under.") != std::string::npos);
    CHECK(readText(folder / "stairs.svg").find("<svg xmlns=") != std::string::npos);
    CHECK(readText(folder / "stairs.svg").find("Up the back stairs") != std::string::npos);
    const auto refused = landfallIn(folder, mark + " --svg " + (folder / "no/such/place.svg").string());
    CHECK(refused.status == 1);
    CHECK(refused.output.find("place.svg") != std::string::npos);
    CHECK(landfallIn(folder, "mark take.wav --move bend:D4:E4 --svg x.svg").status == 2);
}
