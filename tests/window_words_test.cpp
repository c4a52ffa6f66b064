#include <doctest/doctest.h>

#include "gui/intent.h"
#include "gui/screen_view.h"
#include "gui/look.h"
#include "gui/views.h"
#include "gui/words.h"
#include "src/practice/verdict.h"
#include "tests/support/invented_screens.h"

using namespace landfall;

namespace {

Landing landing(Verdict verdict, std::optional<double> firstStop, std::string sentence = "") {
    Landing result;
    result.verdict = verdict;
    if (firstStop) result.firstStopError = Cents(*firstStop);
    result.sentence = std::move(sentence);
    return result;
}

}  // namespace

TEST_CASE("the big line says how a try landed in two or three words") {
    CHECK(wordsOf(landing(Verdict::deadOn, 3.0)).headline == "dead on");
    CHECK(wordsOf(landing(Verdict::inTune, 7.2)).headline == "7 over");
    CHECK(wordsOf(landing(Verdict::near, -21.6)).headline == "22 under");
    CHECK(wordsOf(landing(Verdict::over, 31.4)).headline == "31 over");
    CHECK(wordsOf(landing(Verdict::died, std::nullopt)).headline == "died");
    CHECK(wordsOf(landing(Verdict::wrongFret, 3.0)).headline == "wrong fret");
    CHECK(wordsOf(landing(Verdict::twoStrings, std::nullopt)).headline == "two strings rang");
    Landing half = landing(Verdict::otherInterval, -96.0);
    half.move = {Gesture::bend, MidiPitch(62), MidiPitch(64), {}, {}};
    half.landingError = Cents(-96.0);
    CHECK(wordsOf(half).headline == "a half step");
    CHECK(wordsOf(landing(Verdict::under, std::nullopt)).headline == "not measurable");
}

TEST_CASE("what stands below the big line does not say it again") {
    const Landing plain = landing(Verdict::near, -22.0, "22 under: about a fifth of a fret.");
    CHECK(wordsOf(plain) == Words{"22 under", "About a fifth of a fret."});
    CHECK(wordsOf(landing(Verdict::near, 7.0, "In tune, 7 over.")) == Words{"7 over", "In tune, 7 over."});
    CHECK(wordsOf(landing(Verdict::near, -22.0)).rest.empty());  // not final yet
    Landing release = landing(Verdict::deadOn, 1.0, "Dead on, and it stayed.");
    release.move.gesture = Gesture::release;
    CHECK(wordsOf(std::vector{plain, release}, Cents(20.0))
          == Words{"22 under, then dead on",
                   "22 under: about a fifth of a fret. Then the release: dead on, and it stayed."});
}

TEST_CASE("a mark's arrival counts from the pick stroke") {
    Landing given = landing(Verdict::near, -22.0);
    given.onset = Seconds(10.25);
    given.landingTime = Seconds(11.0);
    CHECK(markOf(given, Cents(25.0)).arrival->value == doctest::Approx(0.75));
    given.landingTime.reset();
    CHECK_FALSE(markOf(given, Cents(25.0)).arrival);
}

TEST_CASE("every trouble has its name and a remedy, and what is known better replaces the remedy") {
    for (int i = 0; i <= static_cast<int>(Trouble::simulated); ++i) {
        const auto trouble = static_cast<Trouble>(i);
        CAPTURE(i);
        const TroubleWords words = troubleWords({trouble, ""});
        CHECK_FALSE(words.what.empty());
        CHECK(words.what.size() <= 20);  // read from two metres
        CHECK(words.remedy.ends_with("."));
        CHECK(troubleWords({trouble, "Said."}).remedy == "Said.");
    }
    CHECK(stopsPractice(Trouble::noDevice));
    CHECK(stopsPractice(Trouble::stringSlipped));
    CHECK_FALSE(stopsPractice(Trouble::clipping));
    CHECK_FALSE(stopsPractice(Trouble::logTrouble));
}

TEST_CASE("the level is none, too quiet, fine or clipping") {
    CHECK(levelWord({"", Decibels(-10.0), false}) == LevelWord::none);
    CHECK(levelWord({"Line in", Decibels(-140.0), false}) == LevelWord::none);
    CHECK(levelWord({"Line in", Decibels(-72.0), false}) == LevelWord::none);  // a silent guitar is not too quiet
    CHECK(levelWord({"Line in", Decibels(-50.0), false}) == LevelWord::tooQuiet);
    CHECK(levelWord({"Line in", Decibels(-14.0), false}) == LevelWord::fine);
    CHECK(levelWord({"Line in", Decibels(-0.1), true}) == LevelWord::clipping);
}

TEST_CASE("contrast follows WCAG 2.1: black on white is 21, a colour on itself 1") {
    // W3C, WCAG 2.1, definitions of contrast ratio and relative luminance; 4.48 for #777777 on white: from memory.
    CHECK(contrast({0, 0, 0}, {255, 255, 255}) == doctest::Approx(21.0));
    CHECK(contrast({90, 20, 200}, {90, 20, 200}) == doctest::Approx(1.0));
    CHECK(contrast({119, 119, 119}, {255, 255, 255}) == doctest::Approx(4.48).epsilon(0.005));
}

TEST_CASE("words stand out 7 to 1 in both themes, marks 3 to 1") {
    // WCAG 2.1: 1.4.6 asks 7:1 for text (level AAA), 1.4.11 asks 3:1 for graphical objects.
    for (const bool dark : {true, false}) {
        CAPTURE(dark);
        const Palette& colours = palette(dark);
        for (const Colour ground : {colours.paper, colours.panel}) {
            CHECK(contrast(colours.ink, ground) >= 7.0);
            CHECK(contrast(colours.quiet, ground) >= 7.0);
            CHECK(contrast(colours.under, ground) >= 3.0);
            CHECK(contrast(colours.over, ground) >= 3.0);
        }
        const auto mixed = [](unsigned char over, unsigned char under) {
            return static_cast<unsigned char>(aimEdge * static_cast<float>(over)
                                              + (1.0f - aimEdge) * static_cast<float>(under));
        };
        const Colour edge{mixed(colours.quiet.r, colours.panel.r), mixed(colours.quiet.g, colours.panel.g),
                          mixed(colours.quiet.b, colours.panel.b)};
        CHECK(contrast(edge, colours.panel) >= 3.0);
    }
}

TEST_CASE("a key means what the screen it is pressed on says") {
    Snapshot s = inventedPractice();
    using Kind = Intent::Kind;
    const auto kind = [&](int key) {
        const Intents intents = intentsForKey(s, key);
        REQUIRE(intents.size() == 1);
        return intents.front().kind;
    };
    CHECK(kind(32) == Kind::again);
    CHECK(kind(257) == Kind::next);
    CHECK(kind(259) == Kind::discard);
    CHECK(kind('S') == Kind::see);
    CHECK(intentsForKey(s, 'Q').empty());
    CHECK(intentsForKey(s, '2').front().screen == Screen::drills);

    s.keys.next = 266;  // a learned pedal that sends page up
    CHECK(kind(266) == Kind::next);
    CHECK(intentsForKey(s, 257).empty());

    s.screen = Screen::drills;
    CHECK(kind(265) == Kind::previous);
    CHECK(kind(264) == Kind::following);
    CHECK(kind(257) == Kind::choose);
    CHECK(kind(259) == Kind::decline);
    CHECK(intentsForKey(s, 256).front().screen == Screen::practice);
}

TEST_CASE("while a key is learned the next key is taken, whatever it is, and escape leaves it as it was") {
    const Snapshot s = inventedScreens()["settings-learning"];
    const Intents learned = intentsForKey(s, '2');
    REQUIRE(learned.size() == 1);
    CHECK(learned.front().kind == Intent::Kind::learned);
    CHECK(learned.front().value == '2');
    CHECK(intentsForKey(s, 256).front().kind == Intent::Kind::decline);
}

TEST_CASE(
    "every key that the line at the bottom tells of works, and escape and the digits lead to another screen unless a "
    "key or text is awaited") {
    for (const auto& [name, shown] : inventedScreens()) {
        CAPTURE(name);
        const Keys keys = viewOf(shown.screen).keys(shown);
        for (const Key& each : keys.all)
            for (const Key::Press& press : each.presses) {
                CAPTURE(each.shown);
                const Intents intents = intentsForKey(shown, press.code);
                REQUIRE(intents.size() == 1);
                if (!each.does.empty()) CHECK(intents.front().kind == press.kind);
                CHECK(intents.front().screen == (press.kind == Intent::Kind::open ? Screen::practice : shown.screen));
            }
        int digit = '1';
        for (const ScreenView* view : screenViews()) {
            const Intents intents = intentsForKey(shown, digit++);
            const bool opens = intents.size() == 1 && intents.front().kind == Intent::Kind::open
                               && intents.front().screen == view->screen;
            CHECK(opens == (keys.others == Keys::Others::open));
        }
    }
}

TEST_CASE("keys are named as players call them") {
    CHECK(keyName(32) == "space");
    CHECK(keyName('S') == "S");
    CHECK(keyName(290) == "F1");
    CHECK(keyName(400) == "key 400");
}
