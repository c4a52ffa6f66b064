#include <doctest/doctest.h>

#include <string>

#include "src/formats/phrase_file.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

CommandOutcome run(const std::string& arguments, const std::string& environment = "") {
    return runCommand(environment + " '" LANDFALL_PROGRAM "' phrases " + arguments + " 2>&1");
}

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("landfall phrases lists the built-in ones and the player's own, and names a file that cannot be read") {
    const TestFolder data;
    const std::string environment = "XDG_DATA_HOME='" + data.path.string() + "'";
    std::filesystem::create_directories(data / "landfall/phrases");
    std::string own(builtInPhraseText("Two stairs down"));
    own.replace(own.find("Two stairs down"), 15, "My own stairs");
    writeText(data / "landfall/phrases/own.musicxml", own);
    writeText(data / "landfall/phrases/broken.musicxml", "<score-partwise>");
    const auto all = run("", environment);
    CHECK(all.status == 0);
    for (const char* title :
         {"Lantern Street", "Same line elsewhere", "Rain on the awning", "Two stairs down", "My own stairs"})
        CHECK_MESSAGE(says(all.output, title), title);
    CHECK(says(all.output, "broken.musicxml:1: "));
    CHECK(says(run("'my OWN stairs'", environment).output, "17 moves"));
    CHECK(run("'my own stairs'").status == 1);  // somebody else's
    CHECK(says(run("--json").output, "\"phrase\": \"Lantern Street\""));
}

TEST_CASE("landfall phrases PHRASE numbers the moves with bar, beat, place, notes and words, and lists the rest") {
    const auto one = run("lantern-street");
    CHECK(one.status == 0);
    CHECK(says(one.output, "8 bars, 31 moves, 76 quarters a minute"));
    CHECK(says(one.output, "  11    3  2.2        2     8  A4    G4      release a full step"));
    CHECK(says(one.output, "  12    3  3          2     5  E4    E4 +40  bend a little, and back"));
    CHECK_FALSE(says(one.output, "Not understood"));
    CHECK(says(run("'two stairs down' --json").output, "\"gesture\": \"hammer-on\""));

    const TestFolder folder;
    std::string score(builtInPhraseText("Two stairs down"));
    const std::string place = "<technical><string>2</string><fret>6</fret>";
    score.insert(score.find(place) + place.size(), "<harmonic/>");
    writeText(folder / "tune.musicxml", score);
    const auto file = run("'" + (folder / "tune.musicxml").string() + "'");
    CHECK(file.status == 0);
    CHECK(says(file.output, "Not understood, and not asked for:\n  harmonic: bar 1\n"));
}

TEST_CASE("landfall phrases prints a built-in score and writes MIDI") {
    CHECK(run("'two stairs down' --file").output == builtInPhraseText("Two stairs down"));
    const TestFolder folder;
    const auto midi = (folder / "stairs.mid").string();
    CHECK(says(run("'two stairs down' --midi '" + midi + "' --tempo 70").output, "17 moves at 70 quarters a minute"));
    CHECK(readText(midi).starts_with("MThd"));
    CHECK(run("'two stairs down' --midi '" + (folder / "no/such/folder.mid").string() + "'").status == 1);
}

TEST_CASE("landfall phrases says in one line what is wrong: 1 for a phrase, 2 for the command line") {
    for (const char* bad : {"'lantern lane'", "nowhere.musicxml", ".", "/dev/null"}) {
        const auto refused = run(bad);
        CHECK_MESSAGE(refused.status == 1, bad);
        CHECK(refused.output.starts_with("landfall: "));
        CHECK(refused.output.find('\n') == refused.output.size() - 1);
    }
    for (const char* bad :
         {"--file", "--midi x.mid", "'two stairs down' --tempo 80", "'two stairs down' --midi x.mid --tempo nan",
          "'two stairs down' --midi x.mid --tempo 5", "'two stairs down' --json --file"}) {
        const auto refused = run(bad);
        CHECK_MESSAGE(refused.status == 2, bad);
        CHECK(refused.output.find('\n') == refused.output.size() - 1);
    }
}
