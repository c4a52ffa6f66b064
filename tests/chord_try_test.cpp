// Practising moves of several strings: the simulated student with a finger on each string, what the Listener says while
// it plays.
#include "src/practice/chord_try.h"

#include <algorithm>
#include <cmath>
#include <span>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "src/audio/simulated_player.h"
#include "src/formats/drill_file.h"
#include "src/music/chord_move.h"
#include "src/practice/listener.h"
#include "src/practice/verdict.h"
#include "tests/support/heard_events.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

// A student whose pick misses no string.
SimulatedPlayer student(unsigned seed) {
    SimulatedPlayer::Config config{.sampleRate = rate, .seed = seed};
    config.skill.missedChance = 0.0;
    return SimulatedPlayer(config);
}

std::vector<float> played(SimulatedPlayer& player) {
    std::vector<float> all, block(256);
    while (player.queued().value > 0.0) {
        player.read(block);
        all.insert(all.end(), block.begin(), block.end());
    }
    return all;
}

std::vector<ListenerEvent> hear(const std::vector<float>& sound, const std::vector<Move>& moves,
                                std::size_t blockSize = 4096, double discardAt = -1.0,
                                Target target = Target::concert) {
    Listener listener({.sampleRate = rate, .target = target, .aim = Cents(10.0), .stringNames = briefNames(Guitar{})});
    listener.setMoves(moves, MoveOrder::everyTry);
    std::vector<ListenerEvent> events;
    for (std::size_t n = 0; n < sound.size(); n += blockSize) {
        const auto block = std::span(sound).subspan(n, std::min(blockSize, sound.size() - n));
        for (const ListenerEvent& event : listener.process(block)) events.push_back(event);
        if (discardAt > 0.0 && static_cast<double>(n) / rate > discardAt) {
            listener.discardLast();
            discardAt = -1.0;
        }
    }
    for (const ListenerEvent& event : listener.finish()) events.push_back(event);
    return events;
}

std::vector<ListenerEvent> hear(SimulatedPlayer& player, const std::vector<Move>& moves) {
    return hear(played(player), moves);
}

template <typename Event>
std::vector<Event> only(const std::vector<ListenerEvent>& events) {
    std::vector<Event> found;
    for (const ListenerEvent& event : events)
        if (const auto* one = std::get_if<Event>(&event)) found.push_back(*one);
    return found;
}

std::vector<Move> movesOf(const char* drill, std::size_t place = 0) {
    const auto found = findDrill(drill);
    REQUIRE(found);
    return *movesAt(*found, Guitar{}, found->places.at(place));
}

}  // namespace

TEST_CASE("each string is marked while a drill of several strings is played") {
    for (const char* name : {"Side by side", "Two by two", "Meet in the middle", "One holds", "All the way up"}) {
        const auto drill = findDrill(name);
        REQUIRE(drill);
        for (std::size_t place = 0; place < drill->places.size(); ++place) {
            CAPTURE(name);
            CAPTURE(place);
            const auto moves = movesOf(name, place);
            SimulatedPlayer player = student(3U + static_cast<unsigned>(place));
            player.rest(Seconds(0.4));
            const PlayerWish wish{.stringErrors = {Cents(-18.0), Cents(9.0), Cents(4.0)}, .dragged = Cents(0.0)};
            player.play(moves, wish);
            player.play(moves, wish);
            player.rest(Seconds(0.5));
            const auto events = hear(player, moves);
            const auto ended = only<TryEnded>(events);
            const auto finals = only<FinalLanding>(events);
            REQUIRE(ended.size() == 2);
            REQUIRE(finals.size() == 2);
            for (std::size_t i = 0; i < 2; ++i) {
                const Landing& landing = ended[i].landing;
                const MoveTruth& truth = player.truths()[i];
                REQUIRE(landing.strings.size() == truth.strings.size());
                for (std::size_t j = 0; j < truth.strings.size(); ++j) {
                    CAPTURE(j);
                    REQUIRE((truth.strings[j] && landing.strings[j].landingError));
                    CHECK(abs(*landing.strings[j].landingError - *truth.strings[j]).value < 2.0);
                }
                CHECK(std::abs(landing.landingError->value - truth.landingError->value) < 3.0);
                CHECK(landing.tryNumber == landing.note);
                // the word comes soon after the strings have arrived
                CHECK((finals[i].at - *landing.landingTime).value < 0.65);
            }
            CHECK(only<TryBegan>(events).size() == 2);
            CHECK(only<EffectHeard>(events).empty());
        }
    }
}

TEST_CASE("the worst string speaks, by its name") {
    const auto moves = movesOf("One holds");  // G string bends under the B string
    const auto said = [&](const PlayerWish& wish) {
        SimulatedPlayer player = student(5);
        player.rest(Seconds(0.4));
        player.play(moves, wish);
        player.rest(Seconds(0.5));
        const auto ended = only<TryEnded>(hear(player, moves));
        REQUIRE(ended.size() == 1);
        return ended.front().landing;
    };
    CHECK(said({.stringErrors = {Cents(-22.0), Cents(0.0)}, .dragged = Cents(0.0)}).sentence
          == "G 22 under, B right. The third is 22 wide.");
    CHECK(said({.stringErrors = {Cents(2.0), Cents(1.0)}, .dragged = Cents(0.0)}).sentence
          == "Both right. The third is 1 narrow.");
    const Landing dragged = said({.stringErrors = {Cents(0.0), Cents(0.0)}, .dragged = Cents(9.0)});
    CHECK(dragged.sentence.find("The held B was pulled 9 up.") != std::string::npos);
    const Landing late = said({.stringErrors = {Cents(0.0), Cents(0.0)}, .dragged = Cents(0.0), .late = 1});
    CHECK(late.sentence.find("B came 150 ms late.") != std::string::npos);
    CHECK(late.strings[0].landingError);
    const Landing silent = said({.stringErrors = {Cents(0.0), Cents(0.0)}, .silent = 1});
    CHECK(silent.sentence == "G right, B did not sound.");
    CHECK(silent.verdict == Verdict::died);
    CHECK_FALSE(silent.landingError);
}

TEST_CASE("just: the trace and the landing of a string are held against the other one") {
    const auto moves = movesOf("One holds");  // G string bends under the B string: a minor third, pure 6/5
    SimulatedPlayer player = student(5);
    player.rest(Seconds(0.4));
    player.play(moves, {.stringErrors = {Cents(-15.64), Cents(0.0)}, .dragged = Cents(0.0)});
    player.rest(Seconds(0.5));
    const auto events = hear(played(player), moves, 4096, -1.0, Target::just);
    const auto ended = only<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    const Landing& landing = ended.front().landing;
    CHECK(landing.target == Target::just);
    CHECK(abs(*landing.strings[0].landingError).value < 2.0);
    std::vector<double> held;
    for (const LiveStrings& live : only<LiveStrings>(events))
        if (live.time > *landing.landingTime + Seconds(0.1) && live.time < *landing.landingTime + Seconds(0.3)
            && live.fromTarget[0])
            held.push_back(live.fromTarget[0]->value);
    REQUIRE(held.size() > 3);
    std::ranges::sort(held);
    CHECK(std::abs(held[held.size() / 2]) < 2.0);
}

TEST_CASE(
    "own guitar: strings held together where they are to land are learned, and what slides there is held against "
    "them") {
    const auto moves = movesOf("Two by two");
    std::vector<Move> strings = stringsOf(moves.front());
    for (Move& string : strings) {
        string.from = string.to;
        string.place->fret = *string.targetFret;
        string.targetFret.reset();
        string.gesture = Gesture::note;
    }
    const std::vector<Move> shape{together(Gesture::note, strings)};
    const auto sound = [&](const std::vector<Move>& first, Seconds length) {
        SimulatedPlayer player = student(7);
        player.rest(Seconds(0.4));
        player.play(first, {.stringErrors = {Cents(6.0), Cents(14.0)}});
        player.rest(Seconds(0.6));
        auto whole = played(player);
        whole.resize(static_cast<std::size_t>((length.value + 0.4) * rate));
        player.play(moves, {.stringErrors = {Cents(6.0), Cents(2.0)}});
        player.rest(Seconds(0.5));
        const auto rest = played(player);
        whole.insert(whole.end(), static_cast<std::size_t>(rate) / 2, 0.0f);
        whole.insert(whole.end(), rest.begin(), rest.end());
        return whole;
    };
    const auto landingOf = [&](const std::vector<float>& heard) {
        const auto events = hear(heard, moves, 4096, -1.0, Target::ownGuitar);
        const auto ended = only<TryEnded>(events);
        REQUIRE(ended.size() == 1);
        for (const Noodling& other : only<Noodling>(events)) CHECK(other.sentence.empty());
        return ended.front().landing;
    };
    const Landing known = landingOf(sound(shape, Seconds(1.5)));
    CHECK(known.target == Target::ownGuitar);
    CHECK(abs(*known.strings[0].landingError).value < 2.0);
    CHECK(abs(*known.strings[1].landingError + Cents(12.0)).value < 2.0);
    // cut off too soon
    const Landing unknown = landingOf(sound(shape, Seconds(0.3)));
    CHECK(unknown.target == Target::concert);
    CHECK(abs(*unknown.strings[0].landingError - Cents(6.0)).value < 2.0);

    Listener listener({.sampleRate = rate, .target = Target::ownGuitar});
    listener.setMoves(moves, MoveOrder::everyTry);
    REQUIRE(listener.lackingTarget());
    CHECK(notHeldYetSentence(*listener.lackingTarget())
          == "Hold A3+F♯4 together once, so that their pitches on this guitar are known.");
    listener.setMoves(shape, MoveOrder::everyTry);  // what is only struck has no other pitch
    CHECK_FALSE(listener.lackingTarget());
}

TEST_CASE("a bend and its release under one stroke are two steps of one try") {
    auto moves = movesOf("One holds");
    Move home = moves.front();
    home.gesture = Gesture::release;
    std::swap(home.from, home.to);
    moves.push_back(home);
    REQUIRE(goesOn(moves[0], moves[1]));
    SimulatedPlayer player = student(8);
    player.rest(Seconds(0.4));
    player.play(moves, {.dragged = Cents(0.0)});
    player.rest(Seconds(0.5));
    const auto ended = only<TryEnded>(hear(player, moves));
    REQUIRE(ended.size() == 2);
    CHECK(ended[0].landing.tryNumber == ended[1].landing.tryNumber);
    CHECK(ended[1].landing.moveNumber == 2);
    CHECK(*ended[0].landing.landingTime < *ended[1].landing.landingTime);
}

TEST_CASE("what is no try of several strings begins none, and is told where it stands alone") {
    const auto moves = movesOf("Two by two");
    SimulatedPlayer player = student(2);
    player.rest(Seconds(0.4));
    player.play(*parseMove("bend:C5:D5"));
    player.rest(Seconds(1.0));
    player.playOpenString(6);
    player.rest(Seconds(0.5));
    const auto events = hear(player, moves);
    CHECK(only<TryEnded>(events).empty());
    const auto noodlings = only<Noodling>(events);
    REQUIRE_FALSE(noodlings.empty());
    CHECK(noodlings.front().sentence == "Other notes sounded. Play G3+E4.");
}

TEST_CASE("one note a fret beside one of those asked is noodling, one of them alone a try with a silent string") {
    const auto moves = movesOf("Side by side");  // D4 and F#4
    const auto heard = [&](double midi, int fret) {
        SimulatedPlayer player = student(2);
        player.rest(Seconds(0.4));
        player.play({{Gesture::note, MidiPitch(midi), MidiPitch(midi), NeckPlace{2, fret}, {}, false, {}}});
        player.rest(Seconds(0.6));
        return hear(player, moves);
    };
    const auto beside = heard(65.0, 6);
    CHECK(only<TryBegan>(beside).empty());
    CHECK(only<TryEnded>(beside).empty());
    CHECK(only<Noodling>(beside).size() == 1);
    const auto alone = only<TryEnded>(heard(66.0, 7));
    REQUIRE(alone.size() == 1);
    CHECK(alone.front().landing.sentence == "G did not sound, B right.");
}

TEST_CASE("strings that were struck and not moved are told so, and one given up has not got there") {
    const auto moves = movesOf("One holds");
    auto struck = moves;
    struck.front().gesture = Gesture::note;
    struck.front().to = struck.front().from;
    SimulatedPlayer player = student(2);
    player.rest(Seconds(0.4));
    player.play(struck);
    player.rest(Seconds(1.0));
    player.play(moves, {.played = Played::died, .failing = Failing::damped});
    player.rest(Seconds(0.5));
    const auto events = hear(player, moves);
    const auto noodlings = only<Noodling>(events);
    REQUIRE_FALSE(noodlings.empty());
    CHECK(noodlings.front().sentence == "You picked fret 7. Now bend it.");
    const auto ended = only<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    CHECK(ended.front().landing.verdict == Verdict::died);
    CHECK(ended.front().landing.sentence == "It did not get there.");
}

TEST_CASE("several strings are marked again after a rest in which nothing was asked") {
    const auto moves = movesOf("Two by two");
    SimulatedPlayer player = student(4);
    player.rest(Seconds(2.0));
    const auto before = played(player);
    player.play(moves);
    player.rest(Seconds(0.5));
    Listener listener({.sampleRate = rate});
    listener.setMoves(moves, MoveOrder::everyTry);
    (void)listener.process(before);
    listener.setMoves({}, MoveOrder::everyTry);
    (void)listener.process(before);
    listener.setMoves(moves, MoveOrder::everyTry);
    std::vector<ListenerEvent> events;
    for (const ListenerEvent& event : listener.process(played(player))) events.push_back(event);
    for (const ListenerEvent& event : listener.finish()) events.push_back(event);
    const auto ended = only<TryEnded>(events);
    REQUIRE(ended.size() == 1);
    // the other string arrives up to 30 ms later, as it was struck
    CHECK(std::abs(ended.front().landing.landingTime->value - 2.0 - player.truths().front().arrival->value) < 0.08);
    for (const StringLanding& string : ended.front().landing.strings) CHECK(string.landingError);
}

TEST_CASE("the cut of the input does not change what is said of several strings") {
    const auto moves = movesOf("All the way up");
    const auto heard = [&](std::size_t blockSize) {
        SimulatedPlayer player = student(6);
        player.rest(Seconds(0.4));
        player.play(moves);
        player.rest(Seconds(0.5));
        std::vector<EventBits> bits;
        for (const ListenerEvent& event : hear(played(player), moves, blockSize)) bits.push_back(bitsOf(event));
        return bits;
    };
    CHECK(heard(4096) == heard(64));
}

TEST_CASE("a try of several strings is struck from the record while it sounds, or after") {
    const auto moves = movesOf("Side by side");
    for (const double at : {1.2, 4.0}) {
        SimulatedPlayer player = student(4);
        player.rest(Seconds(0.4));
        player.play(moves, {.hold = Seconds(2.0)});
        player.rest(Seconds(3.0));
        const auto events = hear(played(player), moves, 4096, at);
        CHECK(only<TryStruck>(events).size() == 1);
        CHECK(only<TryEnded>(events).size() == (at < 2.0 ? 0 : 1));
    }
}

namespace {

// A barre slid up so many frets: strings from low to high, each so many frets above the barre.
std::vector<Move> barre(int fret, int up, std::initializer_list<std::pair<int, int>> shape) {
    std::vector<Move> strings;
    for (const auto& [string, above] : shape) {
        const NeckPlace place{string, fret + above};
        const MidiPitch from = pitchAt(Guitar{}, place);
        strings.push_back({Gesture::slide, from, MidiPitch(from.value + up), place, place.fret + up});
    }
    return strings;
}

}  // namespace

TEST_CASE(
    "nothing is told of a shape while a string of it is on its way: a finger a fret too high from the stroke on") {
    const auto asked = barre(5, 2, {{5, 0}, {4, 2}, {3, 2}, {2, 2}, {1, 0}});
    for (const std::size_t wrong : {1U, 2U, 3U}) {
        CAPTURE(wrong);
        auto fingers = asked;
        fingers[wrong].from = MidiPitch(fingers[wrong].from.value + 1.0);
        fingers[wrong].to = MidiPitch(fingers[wrong].to.value + 1.0);
        ++fingers[wrong].place->fret, ++*fingers[wrong].targetFret;
        SimulatedPlayer player = student(static_cast<unsigned>(wrong));
        player.rest(Seconds(0.4));
        player.play(together(Gesture::slide, fingers));
        player.rest(Seconds(0.5));
        const auto events = hear(player, {together(Gesture::slide, asked)});
        const auto finals = only<FinalLanding>(events);
        REQUIRE(finals.size() == 1);
        const Landing& said = finals.front().landing;
        CHECK(std::abs((*said.landingTime - *player.truths().front().arrival).value) < 0.08);  // a window and a frame
        REQUIRE(said.strings[wrong].landingError);
        CHECK(abs(*said.strings[wrong].landingError - Cents(100.0)).value < 20.0);
        for (const StringLanding& each : said.strings) CHECK(each.heard != StringHeard::no);
    }
}

TEST_CASE("a shape slid an octave through gain has landed where it has, not where an octave up explains half of it") {
    // tanh of the strings' sum; no string of the four is silent or out
    const Move asked = together(Gesture::slide, barre(3, 12, {{4, 0}, {3, -1}, {2, 0}, {1, -2}}));
    for (const double gain : {10.0, 20.0})
        for (const unsigned seed : {1U, 2U, 3U}) {
            CAPTURE(gain);
            CAPTURE(seed);
            SimulatedPlayer::Config config{.sampleRate = rate, .seed = seed, .gain = gain};
            config.skill.missedChance = 0.0;
            SimulatedPlayer player(config);
            player.rest(Seconds(0.4));
            player.play(asked);
            player.rest(Seconds(0.5));
            const auto finals = only<FinalLanding>(hear(player, {asked}));
            REQUIRE(finals.size() == 1);
            const Landing& said = finals.front().landing;
            CHECK(std::abs((*said.landingTime - *player.truths().front().arrival).value)
                  < 0.08);  // a window and a frame
            const auto sure = std::ranges::count(said.strings, StringHeard::yes, &StringLanding::heard);
            CHECK(sure >= 3);
            for (std::size_t j = 0; j < said.strings.size(); ++j)
                if (said.strings[j].heard == StringHeard::yes)
                    CHECK(abs(*said.strings[j].landingError - *player.truths().front().strings[j]).value < 5.0);
        }
}

TEST_CASE("of six strings what is wrong is told, and what hides; what half of them show counts") {
    const auto strings = barre(3, 12, {{6, 0}, {5, 2}, {4, 2}, {3, 1}, {2, 0}, {1, 0}});
    const Move asked = together(Gesture::slide, strings);
    const auto said = [&](double error) {
        SimulatedPlayer player = student(4);
        player.rest(Seconds(0.4));
        PlayerWish wish;
        for (auto& each : wish.stringErrors) each = Cents(0.0);
        wish.stringErrors[1] = Cents(error);
        player.play(asked, wish);
        player.rest(Seconds(0.5));
        const auto sound = played(player);
        // six strings do not clip
        CHECK(std::ranges::max(sound) < 1.0f);
        const auto ended = only<TryEnded>(hear(sound, {asked}));
        REQUIRE(ended.size() == 1);
        return ended.front().landing;
    };
    const Landing right = said(0.0);
    CHECK(right.sentence.starts_with("Right as far as can be told. Hidden by the others: D"));
    CHECK(std::abs(right.landingError.value().value) < 3.0);
    const Landing under = said(-25.0);
    CHECK(under.sentence.starts_with("A 25 under. Hidden by the others: D"));
    CHECK(std::abs(under.landingError.value().value + 25.0) < 3.0);
}
