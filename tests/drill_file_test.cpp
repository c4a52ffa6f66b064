#include <doctest/doctest.h>
#include <fmt/core.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

#include "src/formats/built_in_files.h"
#include "src/formats/drill_file.h"
#include "src/formats/phrase_file.h"
#include "tests/support/command.h"

using namespace landfall;

namespace {

std::string errorOf(const std::string& toml) {
    const auto drill = parseDrill(toml, "mine.toml");
    REQUIRE_FALSE_MESSAGE(drill, toml);
    CHECK(drill.error().message.find('\n') == std::string::npos);
    return drill.error().message;
}

const std::string bendUp = "[[step]]\ngesture = \"bend\"\nto = 1\n";
const std::string onB = "[[place]]\nstring = 2\nfrets = 8\n";

}  // namespace

TEST_CASE("every drill file in the source tree is built in, parses, and is within the limits of care") {
    std::size_t files = 0;
    for (const auto& entry : std::filesystem::directory_iterator(LANDFALL_SOURCE_DIR "/src/drills")) {
        if (entry.path().extension() != ".toml") continue;
        ++files;
        const auto drill = readDrillFile(entry.path());
        REQUIRE_MESSAGE(drill, (drill ? "" : drill.error().message));
        std::ifstream file(entry.path());
        std::stringstream text;
        text << file.rdbuf();
        CHECK(builtInDrillText(drill->name) == text.str());
    }
    CHECK(files == builtInDrillFiles().size());
    CHECK(builtInDrills().size() == files);
    std::set<std::string> names;
    for (const Drill& drill : builtInDrills()) {
        CAPTURE(drill.name);
        names.insert(drill.name);
        CHECK_FALSE(drill.trains.empty());
        CHECK_FALSE(drill.how.empty());
        CHECK(drillLength(drill).value <= 240.0);
        CHECK((drill.tries == 6 || !drill.with.empty()));  // several strings: fewer in a set
        CHECK(placesOn(drill, Guitar{}).missing.empty());
        CHECK(widestBend(drill) <= 2.0);
    }
    for (const char* name :
         {"Half up", "Whole up", "Up and stay", "Up and home", "Bent before", "Twelve along", "One fret in"})
        CHECK_MESSAGE(names.count(name) == 1, name);
}

TEST_CASE("the lightest bend comes first: half steps on the B string, frets 8 to 10") {
    const Drill& drill = builtInDrills().front();
    CHECK(drill.name == "Half up");
    CHECK(describePlaces(drill, Guitar{}) == "B string 8, 9, 10");
    CHECK(widestBend(drill) == 1.0);
}

TEST_CASE("a built-in drill slides an octave on a wound string at most twelve times") {
    for (const Drill& drill : builtInDrills()) {
        if (!hasOctaveSlide(drill)) continue;
        int wound = 0;
        for (const NeckPlace place : drill.places)
            wound += place.string > Guitar{}.plainStrings ? drill.sets * drill.tries : 0;
        CHECK(wound <= 12);
    }
}

TEST_CASE("a short file is enough: a name, a step, a place") {
    const auto drill = parseDrill("name = \"Mine\"\n" + bendUp + onB, "mine.toml");
    REQUIRE(drill);
    CHECK(drill->tries == 6);
    CHECK(drill->rest.value == 20.0);
    CHECK(drill->guidedTries == 3);
    CHECK(drill->places.size() == 1);
}

TEST_CASE("frets are one, a list or a range") {
    const auto places = [](const char* frets) {
        return parseDrill("name = \"Mine\"\n" + bendUp + "[[place]]\nstring = 3\nfrets = " + frets, "m").value().places;
    };
    CHECK(places("[5, 7]").size() == 2);
    CHECK(places("\"5-7\"").size() == 3);
    CHECK(places("\"5-7\"")[2].fret == 7);
    CHECK(places("5")[0].string == 3);
}

TEST_CASE("a bad file is told by line, column and what was expected") {
    CHECK(errorOf("name = \"Mine\"\ntries = 60\n" + bendUp + onB)
          == "mine.toml:2:9: 'tries' must be a whole number from 1 to 6, not 60");
    CHECK(errorOf("name = \"Mine\"\ntries = 6.0\n" + bendUp + onB)
          == "mine.toml:2:9: 'tries' must be a whole number from 1 to 6, not 6.0");
    CHECK(errorOf("name = \"Mine\"\ntrys = 6\n" + bendUp + onB)
              .starts_with("mine.toml:2:1: 'trys' is not known here: expected name, "));
    CHECK(errorOf(bendUp + onB).starts_with("mine.toml:1:1: 'name' is missing"));
    CHECK(errorOf("name = 7\n" + bendUp + onB)
          == "mine.toml:1:8: 'name' must be one line of text, up to 60 characters");
    CHECK(errorOf("name = \"Mine\"\n" + onB).find("at least one [[step]] table") != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\n" + bendUp).find("at least one [[place]] table") != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\nstep = 5\n" + onB).starts_with("mine.toml:2:8: 'step' is missing"));
    CHECK(errorOf("name = \"Mine\"\n[[step]]\ngesture = \"blend\"\n" + onB)
          == "mine.toml:3:11: 'blend' is not a gesture: use bend, release, pre-bend, slide, note or vibrato");
    CHECK(errorOf("name = \"Mine\"\n[[step]]\ngesture = \"bend\"\nto = -1\n" + onB)
              .starts_with("mine.toml:4:6: a bend goes up"));
    CHECK(errorOf("name = \"Mine\"\n[[step]]\ngesture = \"bend\"\nto = nan\n" + onB)
              .starts_with("mine.toml:4:6: 'to' must be a number"));
    CHECK(errorOf("name = \"Mine\"\n[[step]]\ngesture = \"slide\"\nto = 1.5\n" + onB).find("whole frets")
          != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\n[[step]]\ngesture = \"release\"\nto = 2\n" + onB).find("comes down")
          != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\n" + bendUp + "[[place]]\nstring = 2\nfrets = 0\n")
          == "mine.toml:7:9: 'frets' must be a whole number from 1 to 36, not 0");
    CHECK(errorOf("name = \"Mine\"\n" + bendUp + "[[place]]\nstring = 2\nfrets = \"10-8\"\n")
              .find("a range such as \"8-10\"")
          != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\n" + bendUp + "[[place]]\nstring = 2\n").find("'frets' is missing")
          != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\n" + bendUp + "[[place]]\nfrets = 8\n").find("'string' is missing")
          != std::string::npos);
    CHECK(errorOf("name = \"Mine").starts_with("mine.toml:1:"));
    CHECK(errorOf("").find("'name' is missing") != std::string::npos);
}

TEST_CASE("a drill that asks too much of the hand is refused") {
    const std::string full = "[[step]]\ngesture = \"bend\"\nto = 2\n";
    CHECK(errorOf("name = \"Mine\"\nrest_s = 20\n" + full + onB)
              .starts_with("mine.toml:2:10: 'rest_s' must be at least 60"));
    CHECK(errorOf("name = \"Mine\"\n" + full + onB).find("'rest_s' must be at least 60") != std::string::npos);
    CHECK(errorOf("name = \"Mine\"\nsets = 10\n" + bendUp + onB).find("at most 4") != std::string::npos);
    CHECK(parseDrill("name = \"Mine\"\nrest_s = 60\n" + full + onB, "m"));
}

TEST_CASE("drills are found by name, by path, or not at all with the nearest names") {
    CHECK(findDrill("half-UP").value().name == "Half up");
    CHECK(findDrill(LANDFALL_SOURCE_DIR "/src/drills/whole_up.toml").value().name == "Whole up");
    const auto unknown = findDrill("hole up");
    REQUIRE_FALSE(unknown);
    CHECK(unknown.error().message.starts_with("no drill 'hole up': nearest are 'Whole up'"));
    CHECK(findDrill("zzz").error().message.find("'Half up', 'Hear it, then reach it'") != std::string::npos);
    CHECK(findDrill("/nowhere/mine.toml").error().message.starts_with("/nowhere/mine.toml: No such file"));
    CHECK(findDrill(LANDFALL_SOURCE_DIR "/src/drills/")
              .error()
              .message.ends_with("/src/drills/: is not a file; give the path of a drill file"));
}

TEST_CASE("random damage to a drill file is an error in one line, never a crash") {
    const std::string good(builtInDrillText("Half up"));
    unsigned state = 12345;  // a fixed seed: the same damage every time
    const auto next = [&state] { return state = state * 1664525u + 1013904223u; };
    for (int round = 0; round < 2000; ++round) {
        std::string damaged = good.substr(0, 1 + (next() >> 8) % good.size());
        for (int i = 0; i < 3; ++i) damaged[(next() >> 8) % damaged.size()] = static_cast<char>((next() >> 16) & 0xff);
        const auto drill = parseDrill(damaged, "damaged.toml");
        if (!drill) {
            CHECK(drill.error().message.starts_with("damaged.toml:"));
            CHECK(drill.error().message.find('\n') == std::string::npos);
        }
    }
}

TEST_CASE("a drill as JSON says where it is played and how long it takes") {
    const std::string json = drillAsJson(builtInDrills().front(), Guitar{});
    CHECK(json.find("\"name\": \"B string · fret 8\"") != std::string::npos);
    CHECK(json.find("\"tries\": 18") != std::string::npos);
    CHECK(drillsAsJson(builtInDrills(), Guitar{}).find("\"drills\": [") != std::string::npos);
}

TEST_CASE("Whatever a file or an argument holds, an error about it is one line that steers no terminal") {
    const auto clean = [](const std::string& message) {
        for (const char c : message)
            if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) return false;
        return !message.empty();
    };
    for (const char* text :
         {"\"a\\u001b[2Jb\" = 1\n", "name = \"a\\tb\"\n", "name = \"x\"\ntries = \"\\u0007\"\n", "a\x1b[31m = 1\n"}) {
        const auto drill = parseDrill(text, "mine.toml");
        REQUIRE_FALSE(drill);
        CHECK(clean(drill.error().message));
    }
    CHECK(clean(parseMove("bend:A\n4:B4").error().message));
    CHECK(clean(parseMove("\x1b[2J").error().message));
    CHECK(clean(parseTuning("D A\nD").error().message));
    CHECK(clean(findDrill("half\x7f\r").error().message));
}

TEST_CASE(
    "a key of a hundred thousand parts, or values nested as deep, are one line with their place, not the end of the "
    "program") {
    // `first`, then `again` so many times, then `last`.
    const auto text = [](std::string all, int times, const std::string& again, const std::string& last) {
        for (int i = 0; i < times; ++i) all += again;
        return all += last;
    };
    constexpr int many = 100000;
    for (const std::string& one :
         {text("\na", many, ".a", " = 1\n"), text("\n[a", many, ".a", "]\n"), text("\n\"a\"", many, " . 'a'", " = 1\n"),
          text("\na = { b", many, ".b", " = 1 }\n"), text("\n[[a", many, ".a", "]]\n")})
        CHECK(errorOf(one).starts_with("mine.toml:2:"));
    CHECK(errorOf(text("a = ", many, "[", "\n")) == "mine.toml:1:21: not TOML: values are nested more than 16 deep");
    CHECK(errorOf(text("a = ", many, "{a=", "\n")).find("nested more than 16 deep") != std::string::npos);
    CHECK(errorOf(text("a", 16, ".b", " = 1\n")) == "mine.toml:1:32: not TOML: a key has more than 16 parts");
    CHECK(errorOf(text("a", 15, ".b", " = 1\n")).find("'a' is not known here") != std::string::npos);
    CHECK(errorOf(text("a = ", 16, "[", std::string(16, ']'))).find("'a' is not known here") != std::string::npos);
}

TEST_CASE("brackets and dots in strings, comments and numbers are no depth") {
    const std::string dots(20, '.'), open(20, '[');
    const std::string texts = "name = \"Mine " + dots + "\\\"" + open + "\"  # " + dots + open + " \"\n"
                              + "how = \"\"\"" + open + " \"one\" \"\"two\"\" " + dots + "\\\"\"\"\"\"\"\n"
                              + "trains = '" + open + "\\'\n" + "tries = 1\nrest_s = 20.0 # '''\n";
    const auto drill = parseDrill(texts + bendUp + "[[place]]\nstring = 2\nfrets = [8,8, 8,\n8,8,8, 8]\n", "mine.toml");
    REQUIRE_MESSAGE(drill, (drill ? "" : drill.error().message));
    CHECK(drill->name == "Mine " + dots + "\"" + open);
    CHECK(drill->how == open + " \"one\" \"\"two\"\" " + dots + "\"\"\"");
    CHECK(drill->places.size() == 7);
}

TEST_CASE("a drill whose move could only die is refused with the reason, and told where such a move belongs") {
    const std::string name = "name = \"Mine\"\n";
    CHECK(errorOf(name + "[[step]]\ngesture = \"hint\"\n" + onB)
          == "mine.toml:3:11: a hint stands beside other notes, and no try of a drill could be one; write it in a phrase "
             "(`landfall phrases \"let it fall\" --file`)");
    CHECK(errorOf(name + "[[step]]\ngesture = \"bend\"\nto = 0.4\n" + onB)
          == "mine.toml:4:6: a bend of less than half a half step is too small to be told from a note that dies; write "
             "it in a phrase, as a hint");
    CHECK(parseDrill(name + "[[step]]\ngesture = \"bend\"\nto = 0.5\n" + onB, "mine.toml"));
}

TEST_CASE("every drill and phrase that the design names is built in") {
    // The list of the invented world, from the first evening to the third month.
    for (const char* title : {"Hear it, then reach it", "Half up", "Up and stay", "Whole up", "Twelve along",
                              "One fret in", "Up and home", "Bent before"})
        CHECK_MESSAGE(findDrill(title), std::string(title));
    for (const char* title : {"Half here, whole there", "Slip off", "Just a hint", "Long way down", "Shake",
                              "Lantern Street", "Same line elsewhere"})
        CHECK_MESSAGE(findPhrase(title), std::string(title));
}

TEST_CASE("a drill says what it is about, keeps it in a copy, and an unknown subject is told") {
    CHECK(findDrill("Up and stay")->subject == Subject::hold);
    CHECK(findDrill("Up and home")->subject == Subject::release);
    CHECK(findDrill("As slow as you can")->subject == Subject::slow);
    CHECK(findDrill("Half up")->subject == Subject::landing);
    const TestFolder folder;
    Drill mine = findDrill("Up and stay").value();
    mine.name = "Mine";
    REQUIRE(keepDrill(folder.path, mine));
    const auto own = ownDrills(folder.path);
    REQUIRE(own.drills.size() == 1);
    CHECK(own.drills.front().subject == Subject::hold);
    std::ofstream(folder / "other.toml") << "name = \"x\"\nsubject = \"tone\"\n[[step]]\ngesture = \"bend\"\nto = 1\n"
                                            "[[place]]\nstring = 2\nfrets = 8\n";
    const auto refused = readDrillFile(folder / "other.toml");
    REQUIRE_FALSE(refused);
    CHECK(refused.error().message.find("2:") != std::string::npos);
    CHECK(refused.error().message.find("must be one of \"landing\", \"hold\", \"release\", \"slow\"")
          != std::string::npos);
}

TEST_CASE("a drill of several strings says where each of them is fretted and what it does, and keeps it in a copy") {
    const std::string text =
        "name = \"Mine\"\nrest_s = 60\n[[step]]\ngesture = \"bend\"\nto = 1\nwith = [{ to = 2 }]\n"
        "[[place]]\nstring = 3\nfrets = [7, 9]\nwith = [{ string = 2, frets = [8, 10] }]\n";
    const auto both = parseDrill(text, "mine.toml");
    REQUIRE_MESSAGE(both, both.error().message);
    const auto copy = parseDrill(drillAsToml(*both), "copy.toml");
    REQUIRE_MESSAGE(copy, copy.error().message);
    for (const Drill* each : {&*both, &*copy}) {
        const auto moves = movesAt(*each, Guitar{}, {3, 9});
        REQUIRE(moves);
        REQUIRE(moves->front().with.size() == 1);
        CHECK(moves->front().from == MidiPitch(64.0));
        CHECK(moves->front().with.front().place == NeckPlace{2, 10});
        CHECK(moves->front().with.front().width() == 2.0);
        CHECK(hasDoubleBend(*each));
        CHECK(widestBend(*each) == 2.0);
    }
    // Over frets all go along, else the others are held.
    const auto slide = findDrill("All the way up");
    REQUIRE(slide);
    const auto slid = movesAt(*slide, Guitar{}, slide->places.front());
    REQUIRE(slid);
    for (const Move& other : slid->front().with) {
        CHECK(other.width() == 12.0);
        CHECK(*other.targetFret == other.place->fret + 12);
    }
    CHECK(movesAt(*findDrill("One holds"), Guitar{}, {3, 7})->front().with.front().gesture == Gesture::note);
}

TEST_CASE("a drill of several strings that no hand can play is refused with the reason") {
    const auto why = [](const std::string& step, const std::string& with) {
        const auto drill = parseDrill("name = \"Mine\"\nrest_s = 60\n[[step]]\n" + step
                                          + "[[place]]\nstring = 3\nfrets = [7, 9]\nwith = [" + with + "]\n",
                                      "mine.toml");
        REQUIRE_FALSE(drill);
        return drill.error().message;
    };
    const auto says = [](const std::string& message, const char* words) {
        INFO(message);
        CHECK(message.find(words) != std::string::npos);
    };
    const std::string note = "gesture = \"note\"\n", vibrato = "gesture = \"vibrato\"\n";
    says(why(note, "{ string = 3, frets = [9, 11] }"),
         "mine.toml:8:8: two notes on string 3 at once: one string sounds one note");
    says(why(note, "{ string = 2, frets = [13, 15] }"), "mine.toml:8:8: a hand does not reach over 6 frets: 5 at most");
    says(why(note, "{ string = 2, frets = [8] }"), "a fret for each of the place's 2");
    says(why(note, "{ string = 2 }"), "'with' needs a string");
    std::string six;
    for (int string = 1; string <= 6; ++string) six += fmt::format("{{ string = {}, frets = [7, 9] }},", string);
    six.pop_back();
    says(why(note, six.c_str()), "two to 6 strings sound together, not 7");
    says(why(vibrato, "{ string = 2, frets = [7, 9] }"),
         "several strings at once are a note, a slide, a bend or a release");
    says(why("gesture = \"bend\"\nto = 1\nwith = [{ to = 1 }, { to = 1 }]\n", "{ string = 2, frets = [7, 9] }"),
         "more strings than its places have");
}

TEST_CASE(
    "a drill asks what it is held against, keeps it in a copy, and a wish that makes no sense is told with its place") {
    const auto file = [](const std::string& target, const std::string& with) {
        return "name = \"Mine\"\ntarget = " + target
               + "\n[[step]]\ngesture = \"note\"\n[[place]]\nstring = 3\nfrets = [7]\n" + with;
    };
    const std::string pair = "with = [{ string = 2, frets = [7] }]\n";
    CHECK_FALSE(findDrill("Half up")->target);
    const auto just = parseDrill(file("\"just\"", pair), "mine.toml");
    REQUIRE_MESSAGE(just, just.error().message);
    CHECK(just->target == Target::just);
    CHECK(parseDrill(drillAsToml(*just), "copy.toml")->target == Target::just);
    CHECK(drillAsJson(*just, Guitar{}).find("\"target\": \"just\"") != std::string::npos);
    CHECK(parseDrill(file("\"own guitar\"", pair), "m")->target == Target::ownGuitar);
    CHECK(parseDrill(file("\"start note\"", ""), "m")->target == Target::startNote);
    CHECK(errorOf(file("\"just\"", ""))
              .starts_with("mine.toml:2:10: 'target' \"just\" holds one string against another"));
    CHECK(
        errorOf(file("\"start note\"", pair)).starts_with("mine.toml:2:10: 'target' \"start note\" is for one string"));
    CHECK(
        errorOf(file("\"pure\"", pair))
        == "mine.toml:2:10: 'target' must be one of \"concert\", \"start note\", \"own guitar\", \"just\", not 'pure'");
    CHECK(errorOf(file("3", pair)).starts_with("mine.toml:2:10: 'target' must be one of"));
}
