// What each stage of the engine costs, in seconds a second of sound, beside aubio's yinfast in the same run. Sound: a
// string bent a full step.
//   build/release/tests/engine_bench        (configured with -DLANDFALL_BENCH=ON)
#include <benchmark/benchmark.h>

#include <aubio/aubio.h>

#include "dsp/coarse_period.h"
#include "dsp/decimator.h"
#include "dsp/partial_fit.h"
#include "tests/support/heard_events.h"
#include "tests/support/played_curve.h"
#include "tests/support/string_sound.h"
#include "tests/support/student_takes.h"

using namespace landfall;

namespace {

constexpr double rate = 48000.0, seconds = 2.0;
constexpr std::int64_t low = 110, high = 392;  // Hz: A2 and G4

// The rate that the benchmark prints upside down: how long a second of sound takes.
void perSecondOfSound(benchmark::State& state, double soundSeconds) {
    state.counters["s_per_s"] = benchmark::Counter(static_cast<double>(state.iterations()) * soundSeconds,
                                                   benchmark::Counter::kIsRate | benchmark::Counter::kInvert);
}

std::vector<float> bentString(double hertz) {
    return stringSound({.sampleRate = rate, .seconds = seconds, .decay = 3.0, .noise = 1e-4},
                       [hertz](double t) { return hertz * std::exp2(std::clamp((t - 0.4) / 0.25, 0.0, 1.0) / 6.0); });
}

std::vector<float> decimated(std::span<const float> sound, double& workingRate) {
    Decimator decimator({.sampleRate = rate});
    workingRate = decimator.workingRate();
    std::vector<float> low16;
    for (const float sample : sound)
        if (const auto out = decimator.push(sample)) low16.push_back(*out);
    return low16;
}

// Decimation and one period search every 5 ms: what names the octave.
void coarseStage(benchmark::State& state) {
    const auto sound = bentString(static_cast<double>(state.range(0)));
    Decimator decimator({.sampleRate = rate});
    CoarsePeriod coarse({.sampleRate = decimator.workingRate()});
    const auto hop = static_cast<std::size_t>(0.005 * decimator.workingRate());
    std::vector<float> working(static_cast<std::size_t>(seconds * decimator.workingRate()) + 8);
    for (auto _ : state) {
        decimator.reset();
        std::size_t count = 0;
        for (const float sample : sound) {
            const auto out = decimator.push(sample);
            if (!out) continue;
            working[count++] = *out;
            if (count % hop != 0) continue;
            const std::size_t length = std::min(count, coarse.longestSamples());
            benchmark::DoNotOptimize(coarse.find(std::span(working).subspan(count - length, length), std::nullopt));
        }
    }
    perSecondOfSound(state, seconds);
}

void aubioYinfast(benchmark::State& state) {
    const auto sound = bentString(static_cast<double>(state.range(0)));
    const auto window = static_cast<uint_t>(state.range(1));
    constexpr uint_t hop = 240;  // 5 ms
    aubio_pitch_t* pitch = new_aubio_pitch("yinfast", window, hop, static_cast<uint_t>(rate));
    fvec_t* in = new_fvec(hop);
    fvec_t* out = new_fvec(1);
    for (auto _ : state) {
        for (std::size_t at = 0; at + hop <= sound.size(); at += hop) {
            std::copy_n(sound.begin() + static_cast<std::ptrdiff_t>(at), hop, in->data);
            aubio_pitch_do(pitch, in, out);
            benchmark::DoNotOptimize(out->data[0]);
        }
    }
    del_aubio_pitch(pitch);
    del_fvec(in);
    del_fvec(out);
    perSecondOfSound(state, seconds);
}

// One fit every 5 ms on a stretch from the hold: `stretchSeconds` long, as the tracker asks for it.
void refinement(benchmark::State& state, double stretchSeconds, PartialFit::Request request) {
    const double hertz = static_cast<double>(state.range(0)) * std::exp2(1.0 / 6.0);
    double workingRate = 0.0;
    const auto sound = decimated(bentString(static_cast<double>(state.range(0))), workingRate);
    PartialFit fit({.sampleRate = workingRate});
    const auto length = static_cast<std::size_t>(stretchSeconds * workingRate);
    const auto stretch = std::span(sound).subspan(static_cast<std::size_t>(0.9 * workingRate), length);
    request.start = {Hertz(hertz * 1.001), 0.0, 1e-4};
    request.moment = 0.5 * static_cast<double>(length - 1);
    request.slopeSd = 6000.0;
    for (auto _ : state)
        for (int i = 0; i < 200; ++i) benchmark::DoNotOptimize(fit.fit(stretch, request));
    perSecondOfSound(state, 1.0);
}

void refinementForTheEye(benchmark::State& state) {
    const double hertz = static_cast<double>(state.range(0)) * std::exp2(1.0 / 6.0);
    PartialFit::Request request;
    request.partials = 8;
    refinement(state, std::max(3.0 / hertz, 0.012), request);
}

void refinementForTheScore(benchmark::State& state) {
    PartialFit::Request request;
    request.partials = 10;
    request.taper = true;
    request.inharmonicitySd = 5e-5;
    refinement(state, 0.100, request);
}

// Two seconds of frames of a bend with vibrato: stretches, attempts, landings, as often as the Listener asks.
void judging(benchmark::State& state) {
    PlayedCurve curve(3);
    curve.rest(0.1).stroke(67).hold(0.3).glide(200, 0.25).hold(0.5).vibrato(25, 5.5, 0.85);
    const std::vector<Move> moves{moveOf(Gesture::bend, 67, 69)};
    for (auto _ : state) benchmark::DoNotOptimize(curve.heardBy(moves, MoveOrder::once).size());
    perSecondOfSound(state, curve.now());
}

// The nth second of a note that rings on, followed live, every word looked for: no dearer than its second one.
void followingOn(benchmark::State& state, const PlayedCurve& curve, const Move& move) {
    const auto perSecond = static_cast<std::size_t>(static_cast<double>(curve.frames.size()) / curve.now());
    const auto second = static_cast<std::size_t>(state.range(0) - 1) * perSecond;
    for (auto _ : state) {
        state.PauseTiming();
        std::vector<ListenerEvent> events;
        MoveFollower follower({}, events);
        follower.setMoves({move}, MoveOrder::everyTry);
        std::size_t stroke = 0;
        const auto follow = [&](std::size_t from, std::size_t to) {
            for (std::size_t i = from; i < to; ++i) {
                const PitchFrame& frame = curve.frames[i];
                while (stroke < curve.onsets.size() && curve.onsets[stroke].available <= frame.centre)
                    follower.onset(curve.onsets[stroke++]);
                follower.provisional(frame), follower.settled(frame);
            }
        };
        follow(0, second);
        state.ResumeTiming();
        follow(second, second + perSecond);
    }
    perSecondOfSound(state, 1.0);
}
void followingARingingNote(benchmark::State& state) {
    PlayedCurve curve(3);
    curve.stroke(67).hold(0.3).glide(200, 0.25).hold(18.5);
    followingOn(state, curve, moveOf(Gesture::bend, 67, 69));
}
// A slide picked again where it arrived is read as one note with the one before.
void followingARingingSlide(benchmark::State& state) {
    PlayedCurve curve(3);
    curve.stroke(60).hold(0.4).frets(4, 0.03).stroke(65).hold(18.5);
    followingOn(state, curve, moveOf(Gesture::slide, 60, 65));
}
void wholeListener(benchmark::State& state) {
    const StudentTake take = studentTakes().front();
    const TakeSound sound = soundOf(take);
    for (auto _ : state) {
        Listener listener({.sampleRate = rate});
        listener.setMoves(take.moves(), MoveOrder::once);
        for (std::size_t at = 0; at + 128 <= sound.samples.size(); at += 128)
            benchmark::DoNotOptimize(listener.process(std::span(sound.samples).subspan(at, 128)).size());
    }
    perSecondOfSound(state, static_cast<double>(sound.samples.size()) / rate);
}

// The same listening to the guitar's noise alone.
void wholeListenerAtRest(benchmark::State& state) {
    const StudentTake nothing{.name = "rest", .played = {}, .seed = 2};
    auto sound = soundOf(nothing).samples;
    while (sound.size() < static_cast<std::size_t>(4.0 * rate))
        sound.insert(sound.end(), sound.begin(), sound.begin() + 40000);
    for (auto _ : state) {
        Listener listener({.sampleRate = rate});
        benchmark::DoNotOptimize(listener.process(sound).size());
    }
    perSecondOfSound(state, static_cast<double>(sound.size()) / rate);
}

}  // namespace

BENCHMARK(coarseStage)->Arg(low)->Arg(high)->Unit(benchmark::kMillisecond);
BENCHMARK(aubioYinfast)->Args({low, 2048})->Args({high, 2048})->Unit(benchmark::kMillisecond);
BENCHMARK(refinementForTheEye)->Arg(low)->Arg(high)->Unit(benchmark::kMillisecond);
BENCHMARK(refinementForTheScore)->Arg(low)->Arg(high)->Unit(benchmark::kMillisecond);
BENCHMARK(judging)->Unit(benchmark::kMillisecond);
BENCHMARK(followingARingingNote)->Arg(2)->Arg(19)->Unit(benchmark::kMillisecond);
BENCHMARK(followingARingingSlide)->Arg(2)->Arg(19)->Unit(benchmark::kMillisecond);
BENCHMARK(wholeListener)->Unit(benchmark::kMillisecond);
BENCHMARK(wholeListenerAtRest)->Unit(benchmark::kMillisecond);

BENCHMARK_MAIN();
