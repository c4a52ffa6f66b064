#include "src/app/going_on.h"

#include <doctest/doctest.h>

#include "tests/support/invented_screens.h"

using namespace landfall;

namespace {

// After how many seconds a state goes on by itself, and with what; -1: not within two minutes.
std::pair<int, Intent::Kind> goesOnAfter(const Snapshot& shown, GoOn how) {
    GoingOn going;
    for (int tenth = 0; tenth < 1200; ++tenth)
        if (const auto asked = going.look(shown, how, 0, Seconds(0.1 * tenth))) {
            CHECK(asked->screen == shown.screen);
            return {tenth / 10, asked->kind};
        }
    return {-1, Intent::Kind::quit};
}

}  // namespace

TEST_CASE(
    "by waiting: each start page, a finished string check and a drill's end go on; a page that is not done stays") {
    using Kind = Intent::Kind;
    const auto all = inventedScreens();
    const auto after = [&](const std::string& name) { return goesOnAfter(all.at(name), GoOn::waiting); };
    CHECK(after("start-2-level") == std::pair(10, Kind::choose));
    CHECK(after("start-3-care") == std::pair(30, Kind::decline));  // not taken for read
    CHECK(after("start-4-strings") == std::pair(8, Kind::choose));
    CHECK(after("start-5-first-drill") == std::pair(10, Kind::choose));
    CHECK(after("practice-end") == std::pair(20, Kind::next));
    for (const std::string name :
         {"start-no-input", "start-input-waiting", "strings", "strings-offer", "practice-waiting", "practice-landed",
          "practice-rest", "drills", "settings", "progress"}) {
        CAPTURE(name);
        CHECK(after(name).first == -1);
    }
    Snapshot found = all.at("start-1-input");
    found.start.moves = true;
    CHECK(goesOnAfter(found, GoOn::waiting) == std::pair(6, Kind::choose));
    Snapshot checked = all.at("strings");
    checked.strings.asked = 0;
    CHECK(goesOnAfter(checked, GoOn::waiting) == std::pair(5, Kind::choose));
    Snapshot quiet = all.at("start-2-level");
    quiet.input.level = Decibels(-70.0);
    CHECK(goesOnAfter(quiet, GoOn::waiting).first == -1);
    // A drill that is refused leads to no other, and so on.
    Snapshot refused = all.at("practice-end");
    refused.practice.ends.clear();
    CHECK(goesOnAfter(refused, GoOn::waiting).first == -1);
    // By key nothing goes on by itself.
    for (const auto& [name, shown] : all) {
        CAPTURE(name);
        CHECK(goesOnAfter(shown, GoOn::key).first == -1);
        CHECK(GoingOn::words(shown, GoOn::key).empty());
    }
}

TEST_CASE("two muted strokes end a page or a rest, but not a set; strokes of what was played before are no sign") {
    const auto all = inventedScreens();
    const auto asks = [&](const char* name, double heardAt) {
        GoingOn going;
        const Snapshot& shown = all.at(name);
        for (double now = 0.0; now < 5.0; now += 0.1)
            if (const auto asked = going.look(shown, GoOn::mutedStrokes, 7 + (now >= heardAt ? 1u : 0u), Seconds(now)))
                return std::optional(asked->kind);
        return std::optional<Intent::Kind>();
    };
    CHECK(asks("practice-rest", 2.0) == Intent::Kind::next);
    CHECK(asks("practice-warm-up", 2.0) == Intent::Kind::next);
    CHECK(asks("practice-end", 2.0) == Intent::Kind::next);
    CHECK(asks("start-3-care", 2.0) == Intent::Kind::choose);
    CHECK(asks("start-5-first-drill", 2.0) == Intent::Kind::choose);
    CHECK_FALSE(asks("practice-rest", 0.5));
    CHECK_FALSE(asks("practice-waiting", 2.0));
    CHECK_FALSE(asks("practice-landed", 2.0));
    CHECK_FALSE(asks("settings", 2.0));
    CHECK(GoingOn::words(all.at("practice-rest"), GoOn::mutedStrokes) == "two muted strokes");
    CHECK(GoingOn::words(all.at("practice-end"), GoOn::waiting) == "a moment");
}

TEST_CASE("a key begins the wait anew") {
    GoingOn going;
    const Snapshot shown = inventedScreens().at("practice-end");
    for (int second = 0; second < 60; ++second) {
        if (second % 15 == 14) going.touched();
        CHECK_FALSE(going.look(shown, GoOn::waiting, 0, Seconds(second)));
    }
}
