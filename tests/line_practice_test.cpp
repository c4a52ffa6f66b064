#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <variant>
#include <vector>

#include "src/audio/simulated_player.h"
#include "src/practice/line_practice.h"
#include "src/practice/listener.h"
#include "tests/support/played_line.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0;

using Sound = std::vector<float>;

Sound silence(double seconds) { return Sound(static_cast<std::size_t>(seconds * rate)); }

Sound operator+(Sound a, const Sound& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

// The guitar never is quite silent.
Sound withHiss(Sound sound) {
    std::mt19937 random(7);
    std::normal_distribution<float> gauss(0.0f, 1e-5f);
    for (float& sample : sound) sample += gauss(random);
    return sound;
}

struct Heard {
    std::vector<std::size_t> reached;
    std::vector<MoveTold> told;
    std::vector<ListenerEvent> signal;
    std::vector<PassOver> passes;
    std::vector<std::size_t> passesEndedAt;  // samples
    std::size_t mostFrames = 0;
};

Heard practise(const Line& line, const Sound& sound, std::size_t block = 512) {
    LinePractice practice(line, rate, standardA4);
    Heard heard;
    std::size_t at = 0;
    const auto keep = [&](std::span<const LineEvent> events) {
        for (const LineEvent& event : events) {
            if (const auto* reached = std::get_if<MoveReached>(&event)) heard.reached.push_back(reached->move);
            if (const auto* told = std::get_if<MoveTold>(&event)) heard.told.push_back(*told);
            if (const auto* over = std::get_if<PassOver>(&event)) {
                heard.passes.push_back(*over);
                heard.passesEndedAt.push_back(at);
            }
        }
        heard.signal.insert(heard.signal.end(), practice.signal().begin(), practice.signal().end());
        heard.mostFrames = std::max(heard.mostFrames, practice.heldFrames());
    };
    for (std::span<const float> left = sound; !left.empty();) {
        const auto piece = left.first(std::min(block, left.size()));
        left = left.subspan(piece.size());
        at += piece.size();
        keep(practice.process(piece));
    }
    keep(practice.finish());
    return heard;
}

LineMarks markedAsFile(const Line& line, const Sound& sound) {
    LineListener listener(line, rate, standardA4);
    listener.process(sound);
    listener.finish();
    return listener.marks();
}

std::size_t landedOf(const LineMarks& marks) {
    return static_cast<std::size_t>(
        std::ranges::count_if(marks.moves, [](const LineMark& mark) { return mark.outcome == Outcome::landed; }));
}

// A bend 31 under, a note that is not played, another one in place of one.
std::vector<HowPlayed> badly() { return {{.cents = -31.0}, {}, {.played = false}, {}, {.cents = 200.0}, {}, {}, {}}; }

}  // namespace

TEST_CASE("one pass has the same marks live and as a file, to the bit, whatever silence stands around it") {
    const Line line = shortLine();
    for (const bool well : {true, false})
        for (const double before : {0.4, 9.0}) {
            CAPTURE(well);
            CAPTURE(before);
            const Sound sound =
                withHiss(silence(before) + playedLine(line, 100.0, well ? std::vector<HowPlayed>{} : badly(), 3.5));
            const LineMarks file = markedAsFile(line, sound);
            const Heard heard = practise(line, sound);
            REQUIRE(heard.passes.size() == 1);
            CHECK(heard.passes[0].pass == 1);
            CHECK(heard.passes[0].marks == file);
            CHECK(landedOf(file) == (well ? 8 : 6));
            // Over soon after it: 0.7 s and what the stream is late, not only when the input is.
            const double end = before + 8.0 * 0.6;
            CHECK(static_cast<double>(heard.passesEndedAt[0]) / rate < end + 1.1);
            if (well) continue;
            // 1 cent: what the sound was made with.
            CHECK(std::abs(file.moves[0].landingError->value + 31.0) < 1.0);
            CHECK(file.moves[2].outcome == Outcome::missed);
            CHECK(file.moves[4].outcome == Outcome::wrongNote);
        }
}

TEST_CASE("a pass that the end of the input cuts off has the marks of the file") {
    const Line line = shortLine();
    Sound sound = withHiss(silence(0.4) + playedLine(line, 100.0));
    sound.resize(static_cast<std::size_t>(4.0 * rate));
    const Heard heard = practise(line, sound);
    REQUIRE(heard.passes.size() == 1);
    CHECK(heard.passes[0].marks == markedAsFile(line, sound));
}

TEST_CASE("the cut of the input changes nothing") {
    const Line line = shortLine();
    const Sound sound = withHiss(silence(0.3) + playedLine(line, 100.0) + playedLine(line, 100.0, badly(), 3.0));
    const Heard whole = practise(line, sound, sound.size());
    REQUIRE(whole.passes.size() == 2);
    for (const std::size_t block : {37u, 256u, 4096u}) {
        CAPTURE(block);
        const Heard cut = practise(line, sound, block);
        CHECK(cut.reached == whole.reached);
        REQUIRE(cut.passes.size() == whole.passes.size());
        for (std::size_t i = 0; i < cut.passes.size(); ++i) CHECK(cut.passes[i].marks == whole.passes[i].marks);
    }
}

TEST_CASE("thirty passes are thirty, with the times of the sitting, and no more is kept than one pass needs") {
    const Line line = shortLine();
    const Sound one = withHiss(playedLine(line, 100.0, {}, 1.5));
    Sound all = silence(0.5);
    for (int pass = 0; pass < 30; ++pass) all = all + one;
    const Heard heard = practise(line, all);
    REQUIRE(heard.passes.size() == 30);
    for (std::size_t i = 0; i < 30; ++i) {
        CAPTURE(i);
        const PassOver& over = heard.passes[i];
        CHECK(over.pass == static_cast<int>(i) + 1);
        CHECK(landedOf(over.marks) == 8);
        CHECK(over.marks.extra.empty());
        const double begins = 0.5 + static_cast<double>(i * one.size()) / rate;
        // 20 ms: the attack of a synthetic stroke.
        CHECK(std::abs(over.marks.moves[0].onset->value - begins) < 0.020);
        CHECK(std::abs(*over.marks.tempo - 100.0) < 1.0);
    }
    // 6.3 s of frames each 5 ms.
    CHECK(heard.mostFrames < 1500);
}

TEST_CASE("passes that follow each other in time, without a pause, are told apart") {
    const Line line = shortLine();
    Sound all = silence(0.5);
    for (int pass = 0; pass < 4; ++pass) all = all + playedLine(line, 100.0);
    const Heard heard = practise(line, withHiss(all + silence(2.0)));
    REQUIRE(heard.passes.size() == 4);
    for (const PassOver& over : heard.passes) {
        CAPTURE(over.pass);
        CHECK(landedOf(over.marks) == 8);
        CHECK(over.marks.extra.empty());
        CHECK(std::abs(over.marks.moves[0].onset->value - (0.5 + 4.8 * (over.pass - 1))) < 0.020);
    }
}

TEST_CASE("while a pass goes on its moves are told one after another") {
    const Line line = shortLine();
    const Heard heard = practise(line, withHiss(silence(0.5) + playedLine(line, 100.0, {}, 1.5)));
    CHECK(heard.reached == std::vector<std::size_t>{0, 1, 2, 3, 4, 5, 6, 7});
}

TEST_CASE("a line that is given up is marked as far as it came, and the next pass begins afresh") {
    const Line line = shortLine();
    Sound half = playedLine(line, 100.0);
    half.resize(static_cast<std::size_t>(2.3 * rate));
    for (std::size_t n = 0; n < 1440; ++n) half[half.size() - 1 - n] *= static_cast<float>(n) / 1440.0f;  // damped
    const Sound rest = playedLine(line, 100.0, {}, 2.0);
    const Heard heard = practise(line, withHiss(silence(0.5) + half + silence(3.5) + rest));
    REQUIRE(heard.passes.size() == 2);
    for (const LineMark& mark : heard.passes[0].marks.moves)
        CHECK(mark.outcome == (mark.move < 4 ? Outcome::landed : Outcome::missed));
    CHECK(landedOf(heard.passes[1].marks) == 8);
}

TEST_CASE("a long rest in a line is no end of it, nor a note that could be the last one and is not") {
    Line line = shortLine();
    line.moves.resize(5);
    line.moves.push_back(lineMove(Gesture::slide, 65, 58, 5, false));
    line.moves.push_back(lineMove(Gesture::note, 58, 58, 12));
    line.barBegins = {0.0, 4.0, 8.0, 12.0};
    line.length = 13.0;
    // The slide's arrival may be picked again: it could have died, and this be the last note.
    for (const double again : {0.0, 0.05}) {
        CAPTURE(again);
        Sound sound = playedLine(line, 100.0, {}, 2.0);
        const Sound stroke =
            stringSound({.seconds = 0.9, .amplitude = again, .partials = 8}, 440.0 * std::exp2((58.0 - 69.0) / 12.0));
        const auto arrival = static_cast<std::size_t>(3.06 * rate);
        for (std::size_t n = 0; n < stroke.size(); ++n) sound[arrival + n] += stroke[n];
        // Damped at the beginning of the rest.
        float level = 1.0f;
        for (auto n = static_cast<std::size_t>(3.9 * rate); n < static_cast<std::size_t>(7.19 * rate); ++n)
            sound[n] *= level *= 0.999f;
        const Heard heard = practise(line, withHiss(silence(0.4) + sound));
        REQUIRE(heard.passes.size() == 1);
        CHECK(heard.passes[0].marks == markedAsFile(line, withHiss(silence(0.4) + sound)));
        CHECK(landedOf(heard.passes[0].marks) == 7);
    }
}

TEST_CASE("a player may look for a note for two seconds") {
    const Line line = shortLine();
    Sound first = playedLine(line, 100.0), second = first;
    const auto half = static_cast<std::size_t>(2.4 * rate);
    first.resize(half);
    for (std::size_t n = 0; n < 1440; ++n) first[half - 1 - n] *= static_cast<float>(n) / 1440.0f;
    second.erase(second.begin(), second.begin() + static_cast<std::ptrdiff_t>(half));
    const Heard heard = practise(line, withHiss(silence(0.4) + first + silence(2.0) + second + silence(1.5)));
    REQUIRE(heard.passes.size() == 1);
    CHECK(landedOf(heard.passes[0].marks) == 8);
}

TEST_CASE("what is not the line is forgotten") {
    const Line line = shortLine();
    Line other = line;
    for (LineMove& move : other.moves) {
        move.move.from = MidiPitch(move.move.from.value - 8.4);
        move.move.to = MidiPitch(move.move.to.value - 8.4);
    }
    const Sound noodling = playedLine(other, 130.0, {}, 3.0);
    CHECK(practise(line, withHiss(noodling + noodling)).passes.empty());
    const Heard heard = practise(line, withHiss(noodling + noodling + playedLine(line, 100.0, {}, 2.0)));
    REQUIRE(heard.passes.size() == 1);
    CHECK(heard.passes[0].pass == 1);
    CHECK(landedOf(heard.passes[0].marks) == 8);
    CHECK(heard.passes[0].marks.extra.empty());
    const Heard quiet = practise(line, withHiss(silence(30.0)));
    CHECK(quiet.passes.empty());
    CHECK(quiet.mostFrames < 700);
}

TEST_CASE("talk is no pass, and before one it changes nothing of it") {
    const Line line = shortLine();
    for (const Speaker& speaker : speakers()) {
        CHECK(practise(line, withHiss(speech(speaker, 12.0) + silence(3.0))).passes.empty());
        for (const bool well : {true, false}) {
            const Sound played = playedLine(line, 100.0, well ? std::vector<HowPlayed>{} : badly(), 2.0);
            const Heard heard = practise(line, withHiss(speech(speaker, 5.0) + silence(0.4) + played));
            REQUIRE(heard.passes.size() == 1);
            CHECK(landedOf(heard.passes[0].marks) == (well ? 8 : 6));
        }
    }
}

TEST_CASE("each move that was left has its word while the line sounds, and its trace against its target") {
    const Line line = shortLine();
    const Heard heard = practise(line, withHiss(silence(0.5) + playedLine(line, 100.0, badly(), 1.5)));
    REQUIRE(heard.passes.size() == 1);
    // The last word of each, but for the last move, whose word is the pass's end.
    std::vector<const MoveTold*> last(8);
    for (const MoveTold& told : heard.told) last[told.mark.move] = &told;
    CHECK_FALSE(last[7]);
    for (std::size_t i = 0; i < 7; ++i) {
        CAPTURE(i);
        REQUIRE(last[i]);
        CHECK(last[i]->mark.outcome == heard.passes[0].marks.moves[i].outcome);
        CHECK(last[i]->mark.landingError == heard.passes[0].marks.moves[i].landingError);
    }
    const std::vector<LineTrace>& traces = heard.passes[0].traces;
    REQUIRE(traces.size() == 8);
    CHECK(traces[2].empty());  // not played
    // The bend of the first second: from its fret, two half steps below, to 31 under. 5 cents: frames beside the ends.
    const auto cents = [](const LinePoint& point) { return point.fromTarget.value_or(Cents(999.0)).value; };
    CHECK(std::ranges::any_of(traces[0], [&](const LinePoint& each) { return std::abs(cents(each) + 200.0) < 5.0; }));
    CHECK(std::ranges::any_of(traces[0], [&](const LinePoint& each) { return std::abs(cents(each) + 31.0) < 5.0; }));
    for (const LineTrace& trace : traces)
        CHECK(std::ranges::is_sorted(trace, {}, [](const LinePoint& point) { return point.at.value; }));
}

TEST_CASE("the input's level, clipping and silence are told as a drill's listener tells them") {
    const Line line = shortLine();
    Sound sound = withHiss(silence(0.3) + playedLine(line, 100.0));
    for (std::size_t n = 0; n < sound.size() / 2; ++n) sound[n] = std::clamp(20.0f * sound[n], -1.0f, 1.0f);
    sound = sound + silence(2.0);
    const Heard heard = practise(line, sound);
    Listener listener({.sampleRate = rate});
    std::vector<InputLevel> drill, practised;
    for (const ListenerEvent& event : listener.process(sound))
        if (const auto* level = std::get_if<InputLevel>(&event)) drill.push_back(*level);
    int strokes = 0, pitched = 0;
    for (const ListenerEvent& event : heard.signal) {
        if (const auto* level = std::get_if<InputLevel>(&event)) practised.push_back(*level);
        strokes += std::holds_alternative<PickStroke>(event);
        if (const auto* live = std::get_if<LivePitch>(&event)) pitched += live->frame.pitch.has_value();
    }
    REQUIRE(practised.size() == drill.size());
    bool clips = false, silent = false;
    for (std::size_t i = 0; i < drill.size(); ++i) {
        CHECK(practised[i].at == drill[i].at);
        CHECK(practised[i].peak == drill[i].peak);
        CHECK(practised[i].rms == drill[i].rms);
        CHECK(practised[i].clipping == drill[i].clipping);
        CHECK(practised[i].noSignal == drill[i].noSignal);
        clips |= practised[i].clipping;
        silent |= practised[i].noSignal;
    }
    CHECK(clips);
    CHECK(silent);
    CHECK(strokes > 0);
    CHECK(pitched > 400);
}

TEST_CASE("a part of one move is a pass each time, also where it did not land") {
    const Line line = partOf(shortLine(), std::vector<std::size_t>{5}).line;
    REQUIRE(line.moves.size() == 1);
    // Half way up, then damped.
    Sound died = playedLine(line, 100.0, {{.cents = -55.0}});
    died.resize(static_cast<std::size_t>(0.25 * rate));
    for (std::size_t n = 0; n < 2400; ++n) died[died.size() - 1 - n] *= static_cast<float>(n) / 2400.0f;
    const Sound landed = playedLine(line, 100.0);
    const Heard heard =
        practise(line, withHiss(silence(0.5) + landed + silence(1.5) + died + silence(3.5) + landed + silence(1.5)));
    REQUIRE(heard.passes.size() == 3);
    CHECK(heard.passes[0].marks.moves[0].outcome == Outcome::landed);
    CHECK(heard.passes[1].marks.moves[0].outcome != Outcome::landed);
    CHECK(heard.passes[2].marks.moves[0].outcome == Outcome::landed);
}

TEST_CASE("what the simulated student plays of a line is marked as the truth has it") {
    const Line line = shortLine();
    const auto played = [&line](std::uint32_t seed, PlayerSkill skill, std::vector<MoveTruth>& truths) {
        SimulatedPlayer player({.sampleRate = rate, .seed = seed, .skill = std::move(skill)});
        player.rest(Seconds(0.6));
        player.play(line, 90.0);
        player.rest(Seconds(1.5));
        Sound sound(static_cast<std::size_t>(player.queued().value * rate));
        player.read(sound);
        truths = player.truths();
        return practise(line, sound);
    };
    std::vector<MoveTruth> truths;
    const Heard exact = played(1, exactPlayer(), truths);
    REQUIRE(exact.passes.size() == 1);
    for (std::size_t i = 0; i < truths.size(); ++i) {
        CAPTURE(i);
        const LineMark& mark = exact.passes[0].marks.moves[i];
        REQUIRE(mark.outcome == Outcome::landed);
        // 1 cent: the tracker's own spread on a clean string; a short note's glide is in it.
        CHECK(std::abs(mark.landingError->value - truths[i].landingError->value) < 1.0);
        // A release leaves its note slowly: it is 20 cents away after 40 ms.
        CHECK(std::abs(mark.onset->value - truths[i].onset.value) < (line.moves[i].picked ? 0.030 : 0.060));
    }
    // The demo's student: most of the moves that failed are told as such, hardly one that landed is blamed.
    int failed = 0, found = 0, blamed = 0, landed = 0, words = 0, kept = 0;
    for (std::uint32_t seed = 1; seed <= 20; ++seed) {
        PlayerSkill student = ines();
        student.habits = {};  // line_student_test has those
        const Heard heard = played(seed, student, truths);
        REQUIRE(heard.passes.size() == 1);
        for (std::size_t i = 0; i < truths.size(); ++i) {
            const Outcome outcome = heard.passes[0].marks.moves[i].outcome;
            const bool good = truths[i].played == Played::landed;
            failed += !good;
            found += !good && outcome != Outcome::landed;
            landed += good;
            blamed += good && outcome != Outcome::landed;
        }
        std::vector<bool> said(line.moves.size());
        for (const MoveTold& told : heard.told) {
            if (said[told.mark.move]) continue;
            said[told.mark.move] = true;
            ++words;
            kept += told.mark.outcome == heard.passes[0].marks.moves[told.mark.move].outcome;
        }
    }
    MESSAGE(failed << " failed, " << found << " of them told; " << landed << " landed, " << blamed << " blamed");
    CHECK(failed >= 5);
    CHECK(found * 10 >= failed * 7);
    CHECK(blamed * 50 <= landed);
    // What is said while the line sounds lasts.
    CHECK(words > 120);
    CHECK(kept * 100 >= words * 98);
}

TEST_CASE("silence, hiss and a knock are no pass of a short part") {
    const Line whole = shortLine(), part = partOf(whole, std::vector<std::size_t>{0}).line;
    std::mt19937 random(11);
    std::normal_distribution<float> gauss(0.0f, 2e-4f);
    Sound sound = silence(12.0);
    for (float& sample : sound) sample += gauss(random);
    CHECK(practise(part, sound).passes.empty());
    for (std::size_t n = 0; n < 2400; ++n)
        sound[static_cast<std::size_t>(5.0 * rate) + n] +=
            0.2f * static_cast<float>(2400 - n) / 2400.0f * (n % 2 ? 1.0f : -1.0f);
    CHECK(practise(part, sound).passes.empty());
}

namespace {

// A note, damped at its end.
Sound noteOf(double midi, double seconds) {
    Sound sound = stringSound({.seconds = seconds, .partials = 8}, 440.0 * std::exp2((midi - 69.0) / 12.0));
    const std::size_t damped = std::min<std::size_t>(sound.size(), 1440);
    for (std::size_t n = 0; n < damped; ++n) sound[sound.size() - 1 - n] *= static_cast<float>(n) / 1440.0f;
    return sound;
}

Line notesAt(std::vector<double> beats) {
    Line line;
    for (std::size_t i = 0; i < beats.size(); ++i) {
        const double midi = 57.0 + static_cast<double>(i % 2 == 0 ? i % 7 : 8 - i % 5);
        line.moves.push_back(lineMove(Gesture::note, midi, midi, beats[i]));
    }
    line.length = beats.back() + 1.0;
    for (double bar = 0.0; bar < line.length; bar += 4.0) line.barBegins.push_back(bar);
    return line;
}

// How long after `from` (s) the first pass is told to be over; a minute where it is not.
double overAfter(const Line& line, const Sound& sound, double from) {
    const Heard heard = practise(line, withHiss(sound), 240);
    if (heard.passesEndedAt.empty() || heard.passesEndedAt[0] == sound.size()) return 60.0;
    return static_cast<double>(heard.passesEndedAt[0]) / rate - from;
}

}  // namespace

TEST_CASE("a pass is over two thirds of a second after its last note, or after twice the rest that the line asks for") {
    Line line = notesAt({0, 1});
    CHECK(overAfter(line, noteOf(57, 0.6) + noteOf(64, 0.6) + silence(2.0), 1.2) == doctest::Approx(0.8).epsilon(0.1));
    line = notesAt({0, 3});
    line.tempo = 60.0;
    CHECK(overAfter(line, noteOf(57, 0.6) + silence(10.0), 0.6) == doctest::Approx(6.1).epsilon(0.05));
    // at 90 quarters a minute, where the line says nothing
    CHECK(overAfter(notesAt({0, 4}), noteOf(57, 0.6) + silence(10.0), 0.6) == doctest::Approx(5.4).epsilon(0.05));
    // its first note again, which has to stay
    const Sound pass = noteOf(57, 0.6) + noteOf(64, 0.6) + noteOf(59, 0.6);
    CHECK(std::abs(overAfter(notesAt({0, 1, 2}), pass + noteOf(57, 1.5), 1.8) - 0.57) < 0.1);
}

TEST_CASE("four notes of a long line were the line, three were not; of a short one a tenth of a second is enough") {
    std::vector<double> beats(20);
    for (std::size_t i = 0; i < beats.size(); ++i) beats[i] = static_cast<double>(i);
    const Line line = notesAt(beats);
    Sound sound = silence(0.3);
    for (std::size_t i = 0; i < 3; ++i) sound = sound + noteOf(line.moves[i].move.to.value, 0.5);
    CHECK(practise(line, withHiss(sound + silence(4.0))).passes.empty());
    sound = sound + noteOf(line.moves[3].move.to.value, 0.5);
    CHECK(practise(line, withHiss(sound + silence(4.0))).passes.size() == 1);
    const auto passes = [](double seconds) {
        return practise(notesAt({0}), withHiss(silence(0.3) + noteOf(57, seconds) + silence(4.0))).passes.size();
    };
    CHECK(passes(0.07) == 0);
    CHECK(passes(0.12) == 1);
}

TEST_CASE("a line whose every note is shaken widely is no talk") {
    Line line = notesAt({0, 1, 2, 3, 4, 5, 6, 7, 8, 9});
    for (LineMove& each : line.moves) each.vibrato = true;
    Sound sound = silence(0.3);
    for (const LineMove& each : line.moves) {
        const double hertz = 440.0 * std::exp2((each.move.to.value - 69.0) / 12.0);
        const auto shaken = [hertz](double t) {
            return hertz * std::exp2(80.0 / 2400.0 * (1.0 - std::cos(37.7 * std::max(0.0, t - 0.05))));
        };
        sound = sound + stringSound({.seconds = 0.5, .partials = 8}, shaken);
    }
    const Heard heard = practise(line, withHiss(sound + silence(3.0)));
    REQUIRE(heard.passes.size() == 1);
    CHECK(landedOf(heard.passes[0].marks) == 10);
}
