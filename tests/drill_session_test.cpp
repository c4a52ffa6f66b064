#include "src/practice/drill_session.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "dsp/quantise.h"
#include "src/audio/simulated_player.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

Drill halfStep() {
    Drill drill;
    drill.name = "half step";
    drill.steps = {{.gesture = Gesture::bend, .fromSemitones = 0.0, .toSemitones = 1.0}};
    drill.places = {{2, 8}};
    return drill;
}

std::vector<float> threeBends(std::vector<MoveTruth>& truths) {
    SimulatedPlayer::Config config;
    config.sampleRate = rate;
    config.skill = exactPlayer();
    SimulatedPlayer player(config);
    const auto moves = movesAt(halfStep(), Guitar{}, {2, 8});
    for (const double error : {-18.0, 3.0, 40.0}) {
        PlayerWish wish;
        wish.firstStopError = Cents(error);
        player.rest(Seconds(0.9));
        player.play(*moves, wish);
        player.rest(Seconds(0.9));
    }
    std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
    player.read(samples);
    quantise(samples);
    truths = player.truths();
    return samples;
}

std::unique_ptr<DrillSession> session() {
    DrillSession::Config config;
    config.runner.drill = halfStep();
    config.sampleRate = rate;
    auto made = DrillSession::make(config);
    REQUIRE(made);
    return std::move(*made);
}

std::vector<Landing> landingsAt(std::span<const float> samples, std::size_t block) {
    auto drill = session();
    std::vector<Landing> found;
    const auto keep = [&](std::span<const ListenerEvent> events) {
        for (const ListenerEvent& event : events)
            if (const auto* ended = std::get_if<TryEnded>(&event)) found.push_back(ended->landing);
    };
    for (std::size_t at = 0; at < samples.size(); at += block)
        keep(drill->hear(samples.subspan(at, std::min(block, samples.size() - at))));
    keep(drill->finish());
    CHECK(drill->plan().tries() == static_cast<int>(found.size()));
    return found;
}

}  // namespace

TEST_CASE("a drill's tries are the landings that were heard, however the sound is cut into blocks") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);
    const auto whole = landingsAt(samples, samples.size());
    REQUIRE(whole.size() == 3);
    for (std::size_t i = 0; i < whole.size(); ++i)
        // The synthesiser's truth is exact; half a cent is the tracker's own spread on a clean string.
        CHECK(std::abs(whole[i].firstStopError->value - truths[i].firstStopError->value) < 0.5);
    for (const std::size_t block : {64U, 100U, 511U}) {
        const auto cut = landingsAt(samples, block);
        REQUIRE(cut.size() == whole.size());
        for (std::size_t i = 0; i < whole.size(); ++i) {
            CHECK(cut[i].firstStopError == whole[i].firstStopError);
            CHECK(cut[i].sentence == whole[i].sentence);
        }
    }
}

TEST_CASE("discard that: the last try no longer counts, and is told as struck") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);
    auto drill = session();
    CHECK_FALSE(drill->discard());
    drill->hear(samples);
    REQUIRE(drill->plan().tries() == 3);
    REQUIRE(drill->summary().gestures.size() == 1);
    CHECK(drill->summary().gestures[0].tries == 3);
    REQUIRE(drill->discard());
    CHECK(drill->plan().tries() == 2);
    const auto events = drill->hear(std::vector<float>(512));
    CHECK(drill->summary().gestures[0].tries == 2);
    CHECK(std::any_of(events.begin(), events.end(),
                      [](const ListenerEvent& event) { return std::holds_alternative<TryStruck>(event); }));
}

TEST_CASE("discard that, while the next try sounds: the one before it still counts") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);
    auto drill = session();
    REQUIRE(truths.size() == 3);
    drill->hear(std::span(samples).first(static_cast<std::size_t>((truths[2].onset.value + 0.25) * rate)));
    REQUIRE(drill->plan().tries() == 2);
    REQUIRE(drill->discard());
    CHECK(drill->plan().tries() == 2);
    REQUIRE(drill->discard());
    CHECK(drill->plan().tries() == 1);
}

TEST_CASE("sound that breaks off in mid-try: it is no try, the set goes on where it was, and it is said") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);
    const auto at = [](double seconds) { return static_cast<std::size_t>(seconds * rate); };
    // before it is known to be a try, on the way, and in the hold
    for (const double after : {0.15, 0.55, 1.0}) {
        CAPTURE(after);
        auto drill = session();
        drill->hear(std::span(samples).first(at(truths[2].onset.value + after)));
        REQUIRE(drill->plan().tries() == 2);
        const int attempt = drill->state().attempt;
        drill->interrupt();
        int ended = 0, said = 0;
        for (const ListenerEvent& event : drill->hear(std::vector<float>(48000))) {
            ended += std::holds_alternative<TryEnded>(event) ? 1 : 0;
            const auto* other = std::get_if<Noodling>(&event);
            said += std::holds_alternative<TryStruck>(event) || (other && !other->sentence.empty()) ? 1 : 0;
        }
        CHECK(ended == 0);
        CHECK(said == 1);
        CHECK(drill->plan().tries() == 2);
        CHECK(drill->state().attempt == attempt);
        drill->hear(std::span(samples).subspan(at(truths[2].onset.value - 0.5)));
        CHECK(drill->plan().tries() == 3);
        CHECK(drill->summary().gestures[0].tries == 3);
    }
    auto between = session();
    between->hear(samples);
    between->interrupt();
    for (const ListenerEvent& event : between->hear(std::vector<float>(4800))) {
        CHECK_FALSE(std::holds_alternative<TryStruck>(event));
        CHECK_FALSE(std::holds_alternative<Noodling>(event));
    }
    CHECK(between->plan().tries() == 3);
}

TEST_CASE("a bend that dies because its cable was pulled is not counted, one that dies under the hand is") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);
    std::size_t died = 0;
    for (double after = 0.4; after < 0.9; after += 0.04)
        for (const float noise : {0.0f, 1e-5f}) {
            CAPTURE(after);
            CAPTURE(noise);
            auto drill = session();
            std::vector<float> cut(
                samples.begin(), samples.begin() + static_cast<std::ptrdiff_t>((truths[2].onset.value + after) * rate));
            for (std::size_t i = 0; i < 96000; ++i) cut.push_back(noise * static_cast<float>(i * 7919 % 201));
            quantise(cut);
            bool lost = false;
            for (const ListenerEvent& event : drill->hear(cut))
                if (const auto* ended = std::get_if<TryEnded>(&event))
                    lost = lost || ended->landing.verdict == Verdict::died;
            if (!lost) continue;
            ++died;
            CHECK(drill->plan().tries() == (noise > 0.0f ? 3 : 2));
        }
    CHECK(died >= 2);  // else nothing was tried
}

TEST_CASE("a guess by ear is held against the aim, taken once a try, and counted at the end") {
    std::vector<MoveTruth> truths;
    const auto samples = threeBends(truths);  // -18, 3 and 40, with an aim of 25
    auto drill = session();
    CHECK_FALSE(drill->guess(Guess::on));
    std::size_t from = 0;
    const std::vector<Guess> said{Guess::under, Guess::on, Guess::over};
    for (std::size_t i = 0; i < 3; ++i) {
        const std::size_t to =
            i < 2 ? static_cast<std::size_t>((truths[i + 1].onset.value - 0.3) * rate) : samples.size();
        drill->hear(std::span(samples).subspan(from, to - from));
        from = to;
        REQUIRE(drill->plan().tries() == static_cast<int>(i) + 1);
        const auto landing = drill->guess(said[i]);
        REQUIRE(landing);
        CHECK_FALSE(drill->guess(said[i]));
        const Words words = guessWords(said[i], *landing, Cents(25.0));
        CHECK(words.headline == (i == 0 ? "No, that was on it" : "Right"));
        CHECK(words.rest.starts_with(i == 0 ? "No, it was 18 under, which is on it." : "Right: "));
    }
    CHECK(drill->summary().guesses == "By ear you guessed 2 of 3 right.");
}

TEST_CASE("nothing is marked in a rest: the seventh bend comes while the hand should be off the neck") {
    SimulatedPlayer::Config config;
    config.sampleRate = rate;
    config.skill = exactPlayer();
    SimulatedPlayer player(config);
    const auto moves = movesAt(halfStep(), Guitar{}, {2, 8});
    for (int i = 0; i < 7; ++i) {
        player.rest(Seconds(0.9));
        player.play(*moves);
        player.rest(Seconds(0.9));
    }
    DrillSession::Config wanted;
    wanted.runner.drill = halfStep();
    wanted.runner.drill.sets = 2;
    wanted.sampleRate = rate;
    auto made = DrillSession::make(wanted);
    REQUIRE(made);
    std::vector<float> block(480);
    while (player.queued().value > 0.0) {
        player.read(block);
        quantise(block);
        (*made)->hear(block);
    }
    CHECK((*made)->state().phase == DrillPhase::resting);
    CHECK((*made)->plan().tries() == 6);
}

TEST_CASE(
    "a string that slips lets the drill wait; tries on it are no rows, and the first one in tune goes on with the "
    "drill") {
    auto drill = session();
    std::vector<Landing> found;
    const auto play = [&](Cents offset, const std::vector<double>& errors, std::uint32_t seed) {
        SimulatedPlayer player(
            {.sampleRate = rate, .seed = seed, .skill = exactPlayer(), .stringOffsets = {Cents(0.0), offset}});
        const auto moves = movesAt(halfStep(), Guitar{}, {2, 8});
        for (const double error : errors) {
            player.rest(Seconds(0.9));
            player.play(*moves, {.firstStopError = Cents(error)});
            player.rest(Seconds(0.9));
        }
        std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
        player.read(samples);
        quantise(samples);
        for (const ListenerEvent& event : drill->hear(samples))
            if (const auto* ended = std::get_if<TryEnded>(&event)) found.push_back(ended->landing);
    };
    play(Cents(0.0), {5.0, -5.0}, 1);
    play(Cents(-24.0), {4.0, -4.0, 4.0}, 2);
    CHECK(drill->state().phase == DrillPhase::stringSlipped);
    CHECK(drill->state().message.find("B string 24 under") == 0);
    REQUIRE(found.size() == 5);
    play(Cents(-24.0), {4.0, -4.0}, 3);
    CHECK(drill->state().phase == DrillPhase::stringSlipped);
    CHECK(found.size() == 5);
    play(Cents(0.0), {7.0, -7.0}, 4);
    CHECK(drill->state().phase != DrillPhase::stringSlipped);
    REQUIRE(found.size() == 7);
    CHECK(std::abs(found[5].firstStopError->value - 7.0) < 0.5);
    CHECK(drill->plan().tries() == 6);  // the third on the slipped string was asked for again
    REQUIRE(drill->summary().gestures.size() == 1);
    CHECK(drill->summary().gestures[0].tries == 7);  // but marked, as the log has it
}

TEST_CASE("own guitar: concert pitch counts, and that is told, until the fret was held once; the next drill knows it") {
    SimulatedPlayer::Config student;
    student.sampleRate = rate;
    student.skill = exactPlayer();
    SimulatedPlayer player(student);
    const auto bend = movesAt(halfStep(), Guitar{}, {2, 8});
    Drill held = halfStep();
    held.steps = {{.gesture = Gesture::note, .fromSemitones = 0.0, .toSemitones = 0.0}};
    const auto fret = movesAt(held, Guitar{}, {2, 9});
    PlayerWish sharp;
    sharp.firstStopError = Cents(7.0);  // as this guitar's ninth fret sounds
    const auto play = [&](const auto& moves, const PlayerWish& wish, DrillSession& drill) {
        player.rest(Seconds(1.0));
        player.play(*moves, wish);
        player.rest(Seconds(1.0));
        std::vector<float> samples(static_cast<std::size_t>(player.queued().value * rate));
        player.read(samples);
        std::vector<Landing> found;
        for (const ListenerEvent& event : drill.hear(samples)) {
            if (const auto* ended = std::get_if<TryEnded>(&event)) found.push_back(ended->landing);
            if (const auto* other = std::get_if<Noodling>(&event)) CHECK(other->sentence == "");  // it was asked for
        }
        return found;
    };
    DrillSession::Config config;
    config.runner.drill = halfStep();
    config.runner.guitar.name = "test";
    config.sampleRate = rate;
    config.target = Target::ownGuitar;
    auto first = DrillSession::make(config);
    REQUIRE(first);
    CHECK((*first)->targetRemark() == "Hold fret 9 once, so that its pitch on this guitar is known.");
    auto landings = play(bend, {}, **first);
    REQUIRE(landings.size() == 1);
    CHECK(landings.front().target == Target::concert);
    CHECK(play(fret, sharp, **first).empty());
    CHECK((*first)->targetRemark().empty());

    config.ownFrets = (*first)->ownFrets();
    auto second = DrillSession::make(config);
    REQUIRE(second);
    CHECK((*second)->targetRemark().empty());
    landings = play(bend, {}, **second);
    REQUIRE(landings.size() == 1);
    CHECK(landings.front().target == Target::ownGuitar);
    CHECK(std::abs(landings.front().landingError->value + 7.0) < 1.0);

    config.ownFrets.clear();
    config.target = Target::concert;
    auto third = DrillSession::make(config);
    REQUIRE(third);
    CHECK((*third)->targetRemark().empty());
}
