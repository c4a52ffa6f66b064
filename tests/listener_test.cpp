// The whole engine on the sound of the simulated player, whose truth is known.
#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <limits>
#include <random>

#include "src/audio/simulated_player.h"
#include "src/audio/tone.h"
#include "src/practice/listener.h"
#include "tests/support/noodling.h"
#include "tests/support/played_curve.h"
#include "tests/support/string_sound.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

// B string, fret 8 (G4).
Move onBString(Gesture gesture, double from, double to) {
    Move move = moveOf(gesture, 67 + from, 67 + to);
    move.place = NeckPlace{2, 8};
    return move;
}

std::vector<float> soundOf(SimulatedPlayer& player) {
    std::vector<float> sound(static_cast<std::size_t>((player.queued().value + 0.5) * rate));
    player.read(sound);
    return sound;
}

std::vector<ListenerEvent> heard(std::span<const float> sound, const std::vector<Move>& moves, std::size_t block = 512,
                                 MoveOrder order = MoveOrder::everyTry) {
    Listener listener({.sampleRate = rate});
    listener.setMoves(moves, order);
    std::vector<ListenerEvent> events;
    const auto keep = [&](std::span<const ListenerEvent> some) {
        events.insert(events.end(), some.begin(), some.end());
    };
    while (!sound.empty()) {
        const auto part = sound.first(std::min(block, sound.size()));
        keep(listener.process(part));
        sound = sound.subspan(part.size());
    }
    keep(listener.finish());
    return events;
}

}  // namespace

TEST_CASE("Tries of the simulated player are marked as they were played") {
    SimulatedPlayer player({.seed = 5});
    const Move bend = onBString(Gesture::bend, 0, 2);
    player.rest(Seconds(0.5));
    for (const double error : {-18.0, 4.0, 27.0}) {
        player.play(bend, {.firstStopError = Cents(error), .played = Played::landed});
        player.rest(Seconds(0.8));
    }
    const auto sound = soundOf(player);
    const auto ended = eventsOf<TryEnded>(heard(sound, {bend}));
    REQUIRE(ended.size() == 3);
    for (std::size_t i = 0; i < 3; ++i) {
        REQUIRE(ended[i].landing.landingError);
        // 3 cents: finer than that nothing is graded.
        CHECK(std::abs(ended[i].landing.landingError->value - player.truths()[i].landingError->value) <= 3.0);
        CHECK(std::abs(ended[i].landing.firstStopError->value - player.truths()[i].firstStopError->value) <= 3.0);
        CHECK(std::abs(ended[i].landing.landingTime->value - player.truths()[i].arrival->value) <= 0.04);
    }
}

TEST_CASE("The cut of the input into blocks does not change what is said") {
    SimulatedPlayer player({.seed = 9});
    const Move bend = onBString(Gesture::bend, 0, 1);
    player.rest(Seconds(0.3));
    player.play(bend, {.played = Played::landed});
    const auto sound = soundOf(player);
    const auto whole = heard(sound, {bend}, sound.size());
    for (const std::size_t block : {std::size_t{61}, std::size_t{4096}}) {
        const auto cut = heard(sound, {bend}, block);
        REQUIRE(cut.size() == whole.size());
        const auto one = eventsOf<TryEnded>(whole), other = eventsOf<TryEnded>(cut);
        REQUIRE(one.size() == 1);
        REQUIRE(other.size() == 1);
        CHECK(one[0].at == other[0].at);
        CHECK(one[0].landing.landingError == other[0].landing.landingError);
        CHECK(one[0].landing.landingTime == other[0].landing.landingTime);
        CHECK(one[0].landing.sentence == other[0].landing.sentence);
    }
}

TEST_CASE("Noodling by the simulated player is shown and not marked") {
    SimulatedPlayer player({.seed = 21});
    player.rest(Seconds(0.3));
    player.noodle(Seconds(30.0), {2, 8});
    const auto events = heard(soundOf(player), {onBString(Gesture::bend, 0, 2)});
    for (const auto& one : eventsOf<TryEnded>(events))
        MESSAGE(one.landing.onset.value, " ", one.landing.end.value, " ", one.landing.sentence, " ",
                one.landing.riseTime.value_or(Seconds(-1)).value);
    CHECK(eventsOf<TryEnded>(events).size() <= 1);
    CHECK(eventsOf<Noodling>(events).size() >= 10);
}

TEST_CASE("Five minutes of noodling around a drill, as it sounds, make no false try, and every real one is found") {
#if defined(NDEBUG) && !defined(LANDFALL_SANITIZED)
    const Seconds noodled(300.0);
#else
    const Seconds noodled(120.0);  // a build that checks itself takes ten times as long
#endif
    const NoodledAround heard = noodleAround(77, noodled);
    CHECK(heard.real >= noodled.value / 50.0);
    CHECK(heard.found == heard.real);
    for (const Landing& landing : heard.falseTries)
        MESSAGE(landing.onset.value, " ", landing.end.value, " ", landing.sentence);
    CHECK(heard.falseTries.empty());
    CHECK(heard.notMarked >= noodled.value / 2.0);
}

TEST_CASE("Speech beside a drill lands nothing, whatever note is asked") {
    for (const Speaker& speaker : speakers()) {
        CAPTURE(speaker.pitch);
        const auto spoken = speech(speaker, 10.0);
        const double middle = pitchOf(Hertz(speaker.pitch)).value;
        int landings = 0;
        for (double from = std::round(middle) - 4.0; from < middle + 4.0; from += 1.0)
            for (const ListenerEvent& event : heard(spoken, {moveOf(Gesture::bend, from, from + 1)}))
                if (const auto* ended = std::get_if<TryEnded>(&event)) landings += ended->landing.landingError ? 1 : 0;
        CHECK(landings == 0);
    }
}

TEST_CASE(
    "The string that was struck along is named: what gain mixed to a pitch far below, and what has no pitch at all") {
    const auto told = [](int fret, int string, double gain, const std::string& name) {
        SimulatedPlayer::Config student;
        student.seed = 5;
        student.gain = gain;
        SimulatedPlayer player(student);
        const Move asked = moveAt(Gesture::bend, {string, fret}, 0, 2);
        player.rest(Seconds(0.5));
        for (int i = 0; i < 3; ++i) {
            player.play({asked}, {.played = Played::twoStrings});
            player.rest(Seconds(0.8));
        }
        std::vector<std::string> words;
        const auto events = heard(soundOf(player), {asked});
        for (const Noodling& one : eventsOf<Noodling>(events)) words.push_back(one.sentence);
        for (const TryEnded& one : eventsOf<TryEnded>(events)) words.push_back(one.landing.sentence);
        return std::ranges::count_if(
            words, [&name](const std::string& word) { return word.find(name + " rang beside it.") != word.npos; });
    };
    const auto count = [](const std::vector<std::string>& all, const std::string& one) {
        return std::count(all.begin(), all.end(), one);
    };
    CHECK(told(8, 2, 20.0, "E4") == 3);
    // The tracker has no pitch, and says a word of a stroke that stands alone only.
    CHECK(told(1, 5, 0.0, "D3") >= 1);
    CHECK(told(1, 5, 20.0, "D3") >= 1);
    // A muted stroke and a rest have none either.
    SimulatedPlayer player({.seed = 5});
    player.noodle(Seconds(20.0), {2, 8});
    CHECK(count(
              [&] {
                  std::vector<std::string> sentences;
                  for (const Noodling& one :
                       eventsOf<Noodling>(heard(soundOf(player), {onBString(Gesture::bend, 0, 2)})))
                      sentences.push_back(one.sentence);
                  return sentences;
              }(),
              "No clear pitch. Is another string ringing?")
          == 0);
}

TEST_CASE("Silence is no signal, full scale is clipping, and garbage is neither a note nor a crash") {
    const std::vector<float> silence(static_cast<std::size_t>(rate), 0.0f);
    auto events = heard(silence, {onBString(Gesture::bend, 0, 2)});
    auto levels = eventsOf<InputLevel>(events);
    REQUIRE(levels.size() >= 10);
    CHECK_FALSE(levels[1].noSignal);
    CHECK(levels[9].noSignal);
    CHECK(eventsOf<TryEnded>(events).empty());

    std::vector<float> square(static_cast<std::size_t>(rate));
    for (std::size_t i = 0; i < square.size(); ++i) square[i] = (i / 100) % 2 == 0 ? 1.5f : -1.5f;
    levels = eventsOf<InputLevel>(heard(square, {}));
    CHECK(levels[5].clipping);
    CHECK_FALSE(levels[5].noSignal);

    std::vector<float> garbage(static_cast<std::size_t>(rate));
    for (std::size_t i = 0; i < garbage.size(); ++i)
        garbage[i] = i % 3 == 0 ? std::numeric_limits<float>::quiet_NaN() : std::numeric_limits<float>::infinity();
    CHECK(eventsOf<TryEnded>(heard(garbage, {onBString(Gesture::bend, 0, 2)})).empty());
}

TEST_CASE("Two strings that ring together are not counted; a string that hums along far below does not matter") {
    // A full step from A3, and a minor third above it (320 cents: no small whole numbers hide it) that keeps its
    // distance while both are bent.
    const auto bend = [](double t) {
        return 220.0 * std::exp2(std::clamp((t - 0.5) / 0.25, 0.0, 1.0) * 200.0 / 1200.0);
    };
    const auto third = [&bend](double t) { return bend(t) * std::exp2(320.0 / 1200.0); };
    const std::vector<float> one = stringSound({.seconds = 1.8, .silence = 0.3, .noise = 1e-4}, bend);
    const std::vector<float> loud = stringSound({.seconds = 1.8, .silence = 0.3, .amplitude = 0.14}, third);
    const std::vector<float> faint = stringSound({.seconds = 1.8, .silence = 0.3, .amplitude = 0.015}, 164.8138);
    const Move move = moveOf(Gesture::bend, 57, 59);
    const auto ended = [&](const std::vector<float>& other) {
        std::vector<float> sound = one;
        for (std::size_t n = 0; n < sound.size(); ++n) sound[n] += other[n];
        return eventsOf<TryEnded>(heard(sound, {move}));
    };
    const auto two = ended(loud), single = ended(faint);
    REQUIRE(two.size() == 1);
    CHECK(two[0].landing.verdict == Verdict::twoStrings);
    REQUIRE(single.size() == 1);
    CHECK(single[0].landing.verdict == Verdict::deadOn);
}

TEST_CASE(
    "A bend that takes the open neighbour along rang on two strings, a third, a fourth and a fifth above it; alone it "
    "lands") {
    int said = 0, tries = 0;
    for (const NeckPlace place : {NeckPlace{2, 8}, NeckPlace{2, 10}, NeckPlace{3, 11}}) {
        const double fretted = (place.string == 2 ? 59.0 : 55.0) + place.fret;
        Move move = moveOf(Gesture::bend, fretted, fretted + 2.0);
        move.place = place;
        SimulatedPlayer::Config student;
        student.seed = 31;
        student.skill = noor();
        for (const Played played : {Played::twoStrings, Played::landed}) {
            SimulatedPlayer player(student);
            player.rest(Seconds(0.5));
            for (int i = 0; i < 2; ++i) {
                player.play(move, {.firstStopError = Cents(3.0), .played = played, .doubleStroke = false});
                player.rest(Seconds(0.5));
            }
            std::vector<float> sound(static_cast<std::size_t>(48000.0 * player.queued().value));
            player.read(sound);
            for (const TryEnded& ended : eventsOf<TryEnded>(heard(sound, {move}))) {
                if (played == Played::landed) CHECK(ended.landing.verdict != Verdict::twoStrings);
                else said += ended.landing.verdict == Verdict::twoStrings;
            }
            tries += played == Played::twoStrings ? 2 : 0;
        }
    }
    CHECK(said >= tries - 1);
}

TEST_CASE("The 90 % intervals of simulated landings hold what was really played at least 85 % of the time") {
    int landings = 0, inside = 0;
    for (const double gain : {0.0, 20.0}) {
        SimulatedPlayer::Config student;
        student.seed = 31;
        student.gain = gain;
        SimulatedPlayer player(student);
        const Move bend = onBString(Gesture::bend, 0, 2);
        player.rest(Seconds(0.5));
        for (int i = 0; i < 8; ++i) {
            player.play(bend,
                        {.firstStopError = Cents(-20.0 + 6.0 * i), .played = Played::landed, .doubleStroke = false});
            player.rest(Seconds(0.8));
        }
        const auto ended = eventsOf<TryEnded>(heard(soundOf(player), {bend}));
        REQUIRE(ended.size() == 8);
        for (std::size_t i = 0; i < ended.size(); ++i) {
            REQUIRE(ended[i].landing.landingError);
            ++landings;
            inside += std::abs(ended[i].landing.landingError->value - player.truths()[i].landingError->value)
                      <= 1.645 * ended[i].landing.sd->value;
        }
    }
    CHECK(inside * 100 >= landings * 85);
}

TEST_CASE("the same move asked six times in a row keeps its numbers when one of them failed, in whatever way") {
    const Move bend = onBString(Gesture::bend, 0, 2);
    for (const Failing failing : {Failing::damped, Failing::early, Failing::late, Failing::letDown, Failing::gaveUp})
        for (const int failed : {1, 3, 6}) {
            CAPTURE(static_cast<int>(failing));
            CAPTURE(failed);
            SimulatedPlayer player({.seed = 40, .skill = exactPlayer()});
            player.rest(Seconds(0.5));
            for (int i = 1; i <= 6; ++i) {
                player.play(bend, {.firstStopError = Cents(3.0 * i),
                                   .played = i == failed ? Played::died : Played::landed,
                                   .failing = failing,
                                   .doubleStroke = false});
                player.rest(Seconds(0.8));
            }
            const auto events = heard(soundOf(player), std::vector<Move>(6, bend), 512, MoveOrder::once);
            std::vector<bool> landed(7);
            for (const ListenerEvent& event : events) {
                const auto* ended = std::get_if<TryEnded>(&event);
                if (!ended || !ended->landing.landingError) continue;
                const int number = ended->landing.moveNumber;
                const double error = ended->landing.landingError->value;
                // One that stayed on its way may be told by how far it came.
                if (number == failed) continue;
                CHECK_FALSE(landed[static_cast<std::size_t>(number)]);
                landed[static_cast<std::size_t>(number)] = true;
                // Each has an error of its own, so that it is known by it; 1.5 cents is half of what lies between.
                CHECK(std::abs(error - 3.0 * number) < 1.5);
            }
            for (int i = 1; i <= 6; ++i) CHECK((landed[static_cast<std::size_t>(i)] || i == failed));
        }
}

TEST_CASE("our own tones, heard by an open microphone, are no playing; a string that is picked while they sound is") {
    const Move asked{Gesture::note, MidiPitch(69), MidiPitch(69), NeckPlace{2, 10}, std::nullopt};
    // A tone of a second as loud as the settings begin with, or the pair of a result, from 1 s on. The string is picked
    // so many samples late, because its first block tells another part of it then, or after its pick's own noise.
    const auto heard = [&](bool told, bool pair, bool picked, std::size_t late = 0, float hiss = 1e-4f,
                           float scrape = 0.0f) {
        std::vector<float> sound(static_cast<std::size_t>(4.0 * rate));
        std::mt19937 random(3);
        std::normal_distribution<float> gauss(0.0f, hiss);
        for (float& sample : sound) sample += gauss(random);
        std::vector<float> ours(static_cast<std::size_t>(1.2 * rate));
        Tone tone(rate);
        tone.play(Hertz(440.0), Seconds(1.0), Decibels(-30.0));
        tone.render(ours);
        if (pair) ours = tonePair(Hertz(440.0), Hertz(436.0), rate);
        const auto second = static_cast<std::size_t>(rate);
        for (std::size_t i = 0; i < ours.size(); ++i) sound[second + i] += ours[i];
        const auto string = stringSound({.seconds = 1.2, .decay = 0.8}, 440.0);
        const std::size_t stroke = second + 60000 + late;
        for (std::size_t i = 0; picked && i < string.size(); ++i) sound[stroke + i] += string[i];
        for (std::size_t i = stroke - 300; i < stroke; ++i) sound[i] += scrape * gauss(random);
        Listener listener({.sampleRate = rate});
        listener.setMoves({asked}, MoveOrder::everyTry);
        int begun = 0;
        for (std::size_t at = 0; at < sound.size(); at += 480) {
            if (at == second && told) listener.ownSound(pair ? tonePairLength : Seconds(1.0));
            for (const ListenerEvent& event : listener.process(std::span(sound).subspan(at, 480)))
                if (const auto* began = std::get_if<TryBegan>(&event))
                    begun += !picked || std::abs(began->onset.value - static_cast<double>(stroke) / rate) < 0.02;
        }
        return begun;
    };
    for (const bool pair : {false, true}) {
        CAPTURE(pair);
        CHECK(heard(false, pair, false) > 0);  // what it would be taken for
        CHECK(heard(true, pair, false) == 0);
        CHECK(heard(true, pair, true) == 1);
        for (std::size_t late = 3; late < 60; late += 3) CHECK(heard(true, pair, true, late, 3e-6f) == 1);
        CHECK(heard(true, pair, true, 0, 1e-4f, 4.0f) == 1);
    }
}

TEST_CASE("several target notes sound together, each as loud as the others and none too loud") {
    const std::vector<Hertz> notes{Hertz(220.0), Hertz(330.0)};
    const auto tones = tonesTogether(notes, Seconds(0.5), rate);
    const auto power = [&](double hertz) {
        double re = 0.0, im = 0.0;
        for (std::size_t i = 4800; i < 19200; ++i) {
            const double turn = 2.0 * 3.14159265358979 * hertz * static_cast<double>(i) / rate;
            re += static_cast<double>(tones[i]) * std::cos(turn);
            im += static_cast<double>(tones[i]) * std::sin(turn);
        }
        return re * re + im * im;
    };
    CHECK(power(330.0) / power(220.0) == doctest::Approx(1.0).epsilon(0.1));
    CHECK(power(275.0) < 1e-3 * power(220.0));
    CHECK(std::abs(tones.back()) < 1e-4f);
}

TEST_CASE(
    "a start on another fret is told while the note sounds, in every try of a set, and said the same at its end") {
    SimulatedPlayer player({.sampleRate = rate, .skill = exactPlayer()});
    const std::vector<Move> asked{onBString(Gesture::bend, 0.0, 1.0)};
    Move other = onBString(Gesture::bend, 1.0, 2.0);
    other.place = NeckPlace{2, 9};
    for (int i = 0; i < 6; ++i) {
        player.play({other}, {.hold = Seconds(1.5)});
        player.rest(Seconds(0.7));
    }
    player.play(asked);
    player.rest(Seconds(0.7));
    std::vector<float> sound(static_cast<std::size_t>(player.queued().value * rate));
    player.read(sound);
    Listener listener({.sampleRate = rate});
    listener.setMoves(asked, MoveOrder::everyTry);
    std::vector<std::string> told, after;
    double struck = 0.0;
    int tries = 0;
    for (std::size_t at = 0; at < sound.size(); at += 480)
        for (const ListenerEvent& event :
             listener.process(std::span(sound).subspan(at, std::min<std::size_t>(480, sound.size() - at)))) {
            if (const auto* stroke = std::get_if<PickStroke>(&event)) struck = stroke->onset.time.value;
            if (const auto* wrong = std::get_if<WrongStart>(&event)) {
                told.push_back(wrong->sentence);
                CHECK(wrong->at.value - struck < 0.8);
            }
            if (const auto* over = std::get_if<Noodling>(&event)) after.push_back(over->sentence);
            tries += std::holds_alternative<TryEnded>(event) ? 1 : 0;
        }
    CHECK(told == std::vector<std::string>(6, "That was fret 9. Play fret 8."));
    CHECK(after == told);
    CHECK(tries == 1);
}

TEST_CASE("where the own guitar's fret is still to be heard, a start elsewhere is told all the same while it sounds") {
    SimulatedPlayer player({.sampleRate = rate, .skill = exactPlayer()});
    const std::vector<Move> asked{onBString(Gesture::bend, 0.0, 2.0)};  // fret 10 is to be held once
    const auto held = [](int fret) {
        const MidiPitch pitch(59.0 + fret);
        return Move{Gesture::note, pitch, pitch, NeckPlace{2, fret}, std::nullopt};
    };
    Move bentElsewhere = onBString(Gesture::bend, 2.0, 4.0);
    bentElsewhere.place = NeckPlace{2, 10};
    for (const Move& move : {held(9), bentElsewhere, held(10), held(10)}) {
        player.play({move}, {.hold = Seconds(1.5)});
        player.rest(Seconds(0.7));
    }
    std::vector<float> sound(static_cast<std::size_t>(player.queued().value * rate));
    player.read(sound);
    Listener listener({.sampleRate = rate, .target = Target::ownGuitar});
    listener.setMoves(asked, MoveOrder::everyTry);
    std::vector<std::string> told, after;
    for (const ListenerEvent& event : listener.process(sound)) {
        if (const auto* wrong = std::get_if<WrongStart>(&event)) told.push_back(wrong->sentence);
        if (const auto* over = std::get_if<Noodling>(&event)) after.push_back(over->sentence);
    }
    const std::string nine = "That was fret 9. Play fret 8.", ten = "That was fret 10. Play fret 8.";
    // The bend from fret 10 has taught its pitch in passing: what is held there later is a wrong start.
    CHECK(told == std::vector{nine, ten, ten, ten});
    CHECK(after == told);
}
