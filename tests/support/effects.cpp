#include "tests/support/effects.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "tests/support/resampled.h"

namespace landfall {

namespace {

using Samples = std::vector<float>;
constexpr double pi = std::numbers::pi;
constexpr double period = 1.0 / effectRate;

double fromDecibels(double decibels) { return std::pow(10.0, decibels / 20.0); }
double timeOf(std::size_t sample) { return static_cast<double>(sample) * period; }
// 0 to 1 and back
double sweep(double rate, std::size_t sample) { return 0.5 - 0.5 * std::cos(2.0 * pi * rate * timeOf(sample)); }

double peakOf(const Samples& samples) {
    float most = 0.0F;
    for (const float x : samples) most = std::max(most, std::abs(x));
    return most;
}

// Of what is louder than a fiftieth of the peak, root mean square.
double loudness(const Samples& samples) {
    const double border = 0.02 * peakOf(samples);
    double sum = 0.0, count = 1e-9;
    for (const float x : samples)
        if (std::abs(x) > border) sum += static_cast<double>(x) * static_cast<double>(x), count += 1.0;
    return std::sqrt(sum / count);
}

template <typename OneSample>
void each(Samples& samples, OneSample next) {
    for (std::size_t n = 0; n < samples.size(); ++n)
        samples[n] = static_cast<float>(next(static_cast<double>(samples[n]), n));
}

// Second-order low-pass and high-pass, Q = .71: W3C Audio EQ Cookbook (2021).
class Biquad {
public:
    enum class Kind { lowPass, highPass };
    Biquad(Kind kind, double hertz) {
        const double w = 2.0 * pi * hertz * period, alpha = std::sin(w) / std::numbers::sqrt2, a0 = 1.0 + alpha;
        const double edge = (kind == Kind::lowPass ? 1.0 - std::cos(w) : 1.0 + std::cos(w)) / a0;
        b0 = 0.5 * edge, b1 = kind == Kind::lowPass ? edge : -edge, a1 = -2.0 * std::cos(w) / a0,
        a2 = (1.0 - alpha) / a0;
    }
    double operator()(double x) {
        const double y = b0 * x + s1;
        s1 = b1 * x - a1 * y + s2, s2 = b0 * x - a2 * y;
        return y;
    }

private:
    double b0, b1, a1, a2, s1 = 0.0, s2 = 0.0;
};
Biquad lowPass(double hertz) { return {Biquad::Kind::lowPass, hertz}; }
Biquad highPass(double hertz) { return {Biquad::Kind::highPass, hertz}; }

// A delay line that is read between its samples (third-order Lagrange; Laakso et al., IEEE Signal Processing Magazine
// 13, 1996).
class DelayLine {
public:
    explicit DelayLine(double longest) : ring(static_cast<std::size_t>(longest * effectRate) + 8) {}
    void write(double x) {
        at = (at + 1) % ring.size();
        ring[at] = x;
    }
    double read(double seconds) const {
        const double back = std::max(seconds * effectRate, 1.0);
        const auto whole = static_cast<std::size_t>(back);
        const double d = back - static_cast<double>(whole);
        const auto tap = [&](std::size_t n) { return ring[(at + ring.size() - n) % ring.size()]; };
        return tap(whole - 1) * (-d * (d - 1.0) * (d - 2.0) / 6.0)
               + tap(whole) * ((d + 1.0) * (d - 1.0) * (d - 2.0) / 2.0)
               + tap(whole + 1) * (-(d + 1.0) * d * (d - 2.0) / 2.0)
               + tap(whole + 2) * ((d + 1.0) * d * (d - 1.0) / 6.0);
    }

private:
    std::vector<double> ring;
    std::size_t at = 0;
};

// Recursive comb (Schroeder, Journal of the AES 10, 1962).
void echo(Samples& samples, double seconds, double decibels, double feedback) {
    DelayLine line(seconds + 0.01);
    const double level = fromDecibels(decibels);
    each(samples, [&](double x, std::size_t) {
        const double late = line.read(seconds);
        line.write(x + feedback * late);
        return x + level * late;
    });
}

// A copy whose delay swings sinusoidally, beside the dry sound or in place of it (Dattorro, Journal of the AES 45,
// 1997, "Effect design, part 2").
struct Swing {
    double base, depth, rate;  // s, s, Hz
    double dry, wet, feedback;
};
void swing(Samples& samples, const Swing& given) {
    DelayLine line(given.base + given.depth + 0.01);
    each(samples, [&](double x, std::size_t n) {
        const double late = line.read(given.base + given.depth * std::sin(2.0 * pi * given.rate * timeOf(n)));
        line.write(x + given.feedback * late);
        return given.dry * x + given.wet * late;
    });
}
// The swing that moves the copy's pitch by so many cents up and down.
double depthFor(double cents, double rate) { return (std::exp2(cents / 1200.0) - 1.0) / (2.0 * pi * rate); }

void chorus(Samples& samples, double cents, double rate, double wet) {
    swing(samples, {0.012, depthFor(cents, rate), rate, 1.0, wet, 0.0});
}

// All that is heard moves: so does what a listener calls its pitch.
void vibratoPedal(PitchedSound& sound, Knobs& knobs) {
    const double rate = knobs.between(4.0, 6.5), depth = depthFor(knobs.between(8.0, 20.0), rate), base = 0.006;
    swing(sound.samples, {base, depth, rate, 0.0, 1.0, 0.0});
    const auto played = sound.hertz;
    for (std::size_t i = 0; i < played.size(); ++i) {
        const double t = 0.001 * static_cast<double>(i), late = base + depth * std::sin(2.0 * pi * rate * t);
        const auto from = static_cast<std::ptrdiff_t>(i) - std::lround(1000.0 * late);
        sound.hertz[i] = from < 0 ? 0.0
                                  : played[static_cast<std::size_t>(from)]
                                        * (1.0 - depth * 2.0 * pi * rate * std::cos(2.0 * pi * rate * t));
    }
}

// Feed-forward, gain computed in decibels, smooth decoupled detector (Giannoulis, Massberg & Reiss, Journal of the AES
// 60, 2012).
void compress(Samples& samples, double threshold, double ratio) {
    const double attack = std::exp(-period / 0.005), release = std::exp(-period / 0.15);
    double held = 0.0, smooth = 0.0;
    each(samples, [&](double x, std::size_t) {
        const double over = std::max(0.0, 20.0 * std::log10(std::abs(x) + 1e-6) - threshold),
                     reduced = over * (1.0 - 1.0 / ratio);
        held = std::max(reduced, release * held + (1.0 - release) * reduced);
        smooth = attack * smooth + (1.0 - attack) * held;
        return x * fromDecibels(12.0 - smooth);
    });
}

void gate(Samples& samples, double opens) {
    const double follow = std::exp(-period / 0.005), open = std::exp(-period / 0.001), close = std::exp(-period / 0.03);
    double power = 0.0, gain = 0.0;
    bool isOpen = false;
    each(samples, [&](double x, std::size_t) {
        power = follow * power + (1.0 - follow) * x * x;
        const double level = 10.0 * std::log10(power + 1e-12);
        isOpen = level > (isOpen ? opens - 6.0 : opens);
        const double c = isOpen ? open : close;
        gain = c * gain + (isOpen ? 1.0 - c : 0.0);
        return x * gain;
    });
}

// State-variable filter's band-pass (Chamberlin, Musical Applications of Microprocessors, 1980).
void wah(Samples& samples, double rate) {
    double low = 0.0, band = 0.0;
    each(samples, [&](double x, std::size_t n) {
        const double w = 2.0 * std::sin(pi * 400.0 * std::pow(5.5, sweep(rate, n)) * period);
        low += w * band;
        band += w * (x - low - band / 4.0);
        return band + 0.15 * x;
    });
}

// Four first-order all-passes whose corner swings, added to the dry sound (Smith, Physical Audio Signal Processing,
// "Phasing").
void phaser(Samples& samples, double rate) {
    std::array<double, 4> state{};
    each(samples, [&](double x, std::size_t n) {
        const double t = std::tan(pi * 300.0 * std::pow(5.3, sweep(rate, n)) * period), a = (t - 1.0) / (t + 1.0);
        double y = x;
        for (double& s : state) {
            const double out = a * y + s;
            s = y - a * out;
            y = out;
        }
        return 0.5 * (x + y);
    });
}

void tremolo(Samples& samples, double rate, double depth) {
    each(samples, [&](double x, std::size_t n) { return x * (1.0 - depth * sweep(rate, n)); });
}

// Feedback delay network of eight lines, Householder matrix, one-pole damping (Jot & Chaigne, AES convention 90, 1991).
class Reverb {
public:
    explicit Reverb(double seconds) {
        for (std::size_t i = 0; i < lengths.size(); ++i) gains[i] = std::pow(10.0, -3.0 * lengths[i] / seconds);
    }
    double operator()(double x) {
        std::array<double, 8> out{};
        double sum = 0.0;
        for (std::size_t i = 0; i < out.size(); ++i) {
            damped[i] += 0.6 * (lines[i].read(lengths[i]) - damped[i]);
            out[i] = damped[i] * gains[i];
            sum += out[i];
        }
        for (std::size_t i = 0; i < out.size(); ++i) lines[i].write(x + out[i] - 0.25 * sum);
        return 0.35 * sum;
    }

private:
    // s
    static constexpr std::array<double, 8> lengths{0.0297, 0.0371, 0.0411, 0.0437, 0.0533, 0.0617, 0.0719, 0.0797};
    std::vector<DelayLine> lines = std::vector<DelayLine>(8, DelayLine(0.09));
    std::array<double, 8> gains{}, damped{};
};

void reverberate(Samples& samples, double seconds, double decibels) {
    Samples tail = samples;
    Reverb reverb(seconds);
    each(tail, [&](double x, std::size_t) { return reverb(x); });
    const double level = fromDecibels(decibels) * loudness(samples) / loudness(tail);
    each(samples, [&](double x, std::size_t n) { return x + level * static_cast<double>(tail[n]); });
}

// Two taps run through a delay line at double speed and take turns under a raised cosine (Dattorro, as above): an
// octave up.
class OctaveUp {
public:
    double operator()(double x) {
        line.write(x);
        phase = std::fmod(phase + period / 0.06, 1.0);
        const double other = std::fmod(phase + 0.5, 1.0);
        const auto tap = [this](double at) {
            return (0.5 - 0.5 * std::cos(2.0 * pi * at)) * line.read(0.06 * (1.0 - at));
        };
        return tap(phase) + tap(other);
    }

private:
    DelayLine line{0.08};
    double phase = 0.0;
};

// A reverberation that climbs: its own output comes in again an octave higher.
void shimmer(Samples& samples, double seconds, double decibels) {
    Samples tail = samples;
    Reverb reverb(seconds);
    OctaveUp octave;
    double again = 0.0;
    each(tail, [&](double x, std::size_t) {
        const double out = reverb(x + 0.4 * again);
        again = octave(out);
        return out;
    });
    const double level = fromDecibels(decibels) * loudness(samples) / loudness(tail);
    each(samples, [&](double x, std::size_t n) { return x + level * static_cast<double>(tail[n]); });
}

// High-pass, tanh at four times the rate, and a loudspeaker that ends at 5 kHz. `drive` is against the peak.
void amplify(Samples& samples, double drive) {
    auto thin = highPass(120.0);
    each(samples, [&](double x, std::size_t) { return thin(x); });
    const double scale = drive / std::max(peakOf(samples), 1e-6);
    Samples fast = resampled(samples, 0.25);
    for (float& x : fast) x = static_cast<float>(std::tanh(scale * static_cast<double>(x)));
    fast = resampled(fast, 4.0);
    fast.resize(samples.size());
    auto first = lowPass(5000.0), second = lowPass(5000.0), cone = highPass(80.0);
    each(fast, [&](double x, std::size_t) { return 0.3 * cone(second(first(x))); });
    samples = std::move(fast);
}

void transform(std::vector<std::complex<double>>& values, bool back) {  // radix two, in place (Cooley & Tukey 1965)
    const std::size_t size = values.size();
    for (std::size_t i = 1, j = 0; i < size; ++i) {
        std::size_t bit = size >> 1U;
        for (; j & bit; bit >>= 1U) j ^= bit;
        j ^= bit;
        if (i < j) std::swap(values[i], values[j]);
    }
    for (std::size_t length = 2; length <= size; length <<= 1U) {
        const auto turn = std::polar(1.0, (back ? 2.0 : -2.0) * pi / static_cast<double>(length));
        for (std::size_t from = 0; from < size; from += length) {
            std::complex<double> w = 1.0;
            for (std::size_t k = from; k < from + length / 2; ++k, w *= turn) {
                const auto odd = w * values[k + length / 2];
                values[k + length / 2] = values[k] - odd;
                values[k] += odd;
            }
        }
    }
}

void convolve(Samples& samples, const std::vector<double>& response) {
    std::size_t size = 1;
    while (size < samples.size() + response.size()) size <<= 1U;
    std::vector<std::complex<double>> a(size), b(size);
    for (std::size_t n = 0; n < samples.size(); ++n) a[n] = static_cast<double>(samples[n]);
    for (std::size_t n = 0; n < response.size(); ++n) b[n] = response[n];
    transform(a, false);
    transform(b, false);
    for (std::size_t n = 0; n < size; ++n) a[n] *= b[n];
    transform(a, true);
    for (std::size_t n = 0; n < samples.size(); ++n)
        samples[n] = static_cast<float>(a[n].real() / static_cast<double>(size));
}

// A shoebox by image sources (Allen & Berkley, JASA 65, 1979), its walls by Eyring's formula (JASA 1, 1930). The direct
// sound has amplitude 1; the images pass a high-pass against the pile-up at 0 Hz, as the paper advises, and a low-pass
// for what walls and air take.
std::vector<double> roomResponse(double reverberation, double distance, Knobs& knobs) {
    const std::array<double, 3> size{knobs.between(4.0, 6.0), knobs.between(3.0, 5.0), knobs.between(2.4, 3.0)};
    const std::array<double, 3> source{0.31 * size[0], 0.37 * size[1], 0.8};
    const double angle = knobs.between(0.3, 1.2);
    const std::array<double, 3> microphone{source[0] + distance * std::cos(angle),
                                           source[1] + distance * std::sin(angle), 0.9};
    const double volume = size[0] * size[1] * size[2],
                 walls = 2.0 * (size[0] * size[1] + size[1] * size[2] + size[0] * size[2]);
    // pressure; its square is 1 - absorption
    const double reflects = std::exp(-0.5 * 0.161 * volume / (walls * reverberation));
    constexpr double soundSpeed = 343.0;
    const double furthest = soundSpeed * reverberation;
    std::vector<double> response(static_cast<std::size_t>(reverberation * effectRate) + 2);
    std::array<int, 3> most{};
    for (std::size_t d = 0; d < 3; ++d) most[d] = static_cast<int>(furthest / (2.0 * size[d])) + 1;
    // Along one wall pair: image n is reflected |n - p| + |n| times.
    const auto image = [&](std::size_t d, int n, int p) {
        return (p ? -source[d] : source[d]) + 2.0 * n * size[d] - microphone[d];
    };
    for (int i = -most[0]; i <= most[0]; ++i)
        for (int j = -most[1]; j <= most[1]; ++j)
            for (int k = -most[2]; k <= most[2]; ++k)
                for (int p = 0; p < 8; ++p) {
                    const int px = p & 1, py = (p >> 1) & 1, pz = p >> 2;
                    const double far = std::hypot(image(0, i, px), image(1, j, py), image(2, k, pz));
                    const int bounces = std::abs(i - px) + std::abs(i) + std::abs(j - py) + std::abs(j)
                                        + std::abs(k - pz) + std::abs(k);
                    if (far >= furthest || bounces == 0) continue;
                    const double late = (far - distance) / soundSpeed * effectRate,
                                 level = distance / far * std::pow(reflects, bounces);
                    const auto whole = static_cast<std::size_t>(late);
                    response[whole] += level * (1.0 - (late - static_cast<double>(whole)));
                    response[whole + 1] += level * (late - static_cast<double>(whole));
                }
    auto thin = highPass(60.0);
    auto walled = lowPass(6000.0);
    for (double& value : response) value = walled(thin(value));
    response[0] += 1.0;
    return response;
}

void addNoise(Samples& samples, const Samples& noise, double decibelsBelow) {
    const double level = loudness(samples) / std::max(loudness(noise), 1e-9) * fromDecibels(-decibelsBelow);
    each(samples, [&](double x, std::size_t n) { return x + level * static_cast<double>(noise[n]); });
}

// Air through blades: low noise and the blades' tone with two overtones.
Samples fan(std::size_t length, Knobs& knobs) {
    Samples noise(length);
    const double blades = knobs.between(90.0, 130.0);
    double low = 0.0;
    each(noise, [&](double, std::size_t n) {
        low += 0.03 * (knobs.between(-1.0, 1.0) - low);
        const double turn = 2.0 * pi * blades * timeOf(n);
        return low + 0.03 * (std::sin(turn) + 0.5 * std::sin(2.0 * turn) + 0.25 * std::sin(3.0 * turn));
    });
    return noise;
}

// Drums, a bass and a held chord, each in its simplest form, at 120 beats a minute.
Samples band(std::size_t length, Knobs& knobs) {
    constexpr double beat = 0.5;
    constexpr std::array<double, 4> bassNotes{55.0, 65.41, 73.42, 49.0};
    constexpr std::array<double, 3> chord{220.0, 261.63, 329.63};
    Samples sound(length);
    double rumble = 0.0;
    each(sound, [&](double, std::size_t n) {
        const double t = timeOf(n), inBeat = std::fmod(t, beat), inHalf = std::fmod(t, 0.5 * beat);
        const auto number = static_cast<std::size_t>(t / beat);
        const double white = knobs.between(-1.0, 1.0);
        rumble += 0.1 * (white - rumble);
        double sum = 0.8 * std::sin(2.0 * pi * 55.0 * inBeat) * std::exp(-inBeat / 0.08)
                     + 0.08 * white * std::exp(-inHalf / 0.02);
        if (number % 2 == 1) sum += (0.3 * white + rumble) * std::exp(-inBeat / 0.06);
        for (int k = 1; k <= 6; ++k)
            sum += 0.5 / k * std::sin(2.0 * pi * k * bassNotes[(number / 4) % 4] * t) * std::exp(-inBeat / 0.4);
        for (const double note : chord)
            for (int k = 1; k <= 4; ++k) sum += 0.06 / k * std::sin(2.0 * pi * k * note * t);
        return sum;
    });
    return sound;
}

// A flip-flop that turns at every second rise through zero, times the low part of the sound: an octave below, beside
// what was played.
void octaveDown(Samples& samples, double dry) {
    auto lowFirst = lowPass(300.0), lowSecond = lowPass(300.0);
    const double fall = std::exp(-period / 0.05);
    double envelope = 0.0, sign = 1.0;
    bool below = false;
    each(samples, [&](double x, std::size_t) {
        const double low = lowSecond(lowFirst(x));
        envelope = std::max(std::abs(low), fall * envelope);
        if (low < -0.3 * envelope) below = true;
        if (below && low > 0.0) below = false, sign = -sign;
        return dry * x + 2.0 * sign * low;
    });
}

// Loud enough beside its amplifier a string is fed by it: its first partial grows to a limit instead of dying.
void feedBack(PitchedSound& sound, double drive, double growth) {
    amplify(sound.samples, drive);
    const double limit = 0.8 * loudness(sound.samples);
    double level = 0.0, phase = 0.0;
    each(sound.samples, [&](double x, std::size_t n) {
        const double hertz = sound.hertz[std::min(n / 48, sound.hertz.size() - 1)];
        level = hertz > 0.0 ? std::min(limit, std::max(level, 0.01 * limit) * (1.0 + period / growth))
                            : level * (1.0 - period / 0.03);
        phase += 2.0 * pi * hertz * period;
        return x + level * std::sin(phase);
    });
}

// The six open strings ring along where they share a partial with what is played: resonators on their partials, 1.5 s
// long.
void sympathetic(Samples& samples, double decibels) {
    constexpr std::array<double, 6> open{82.41, 110.0, 146.83, 196.0, 246.94, 329.63};
    struct Resonator {
        std::complex<double> turn, state;
    };
    std::vector<Resonator> strings;
    for (const double hertz : open)
        for (int k = 1; k <= 12; ++k)
            strings.push_back({std::polar(std::exp(-period / 1.5 * (0.8 + 0.2 * k)),
                                          2.0 * pi * k * hertz * std::sqrt(1.0 + 1e-4 * k * k) * period),
                               0.0});
    Samples ringing(samples.size());
    each(ringing, [&](double, std::size_t n) {
        double sum = 0.0;
        for (Resonator& string : strings) {
            string.state = string.turn * string.state + static_cast<double>(samples[n]);
            sum += string.state.imag();
        }
        return sum;
    });
    addNoise(samples, ringing, -decibels);
}

template <typename OnSamples>
Effect made(std::string name, OnSamples change) {
    return {std::move(name), [change](PitchedSound& sound, Knobs& knobs) { change(sound.samples, knobs); }};
}

}  // namespace

const std::vector<Effect>& effects() {
    static const std::vector<Effect> all{
        made("dry", [](Samples&, Knobs&) {}),
        made("delay", [](Samples& x, Knobs& k) { echo(x, k.between(0.25, 0.45), k.between(-12.0, -7.0), 0.35); }),
        made("slap delay", [](Samples& x, Knobs& k) { echo(x, k.between(0.08, 0.14), k.between(-10.0, -6.0), 0.1); }),
        made("chorus",
             [](Samples& x, Knobs& k) { chorus(x, k.between(6.0, 12.0), k.between(0.5, 1.2), k.between(0.5, 1.0)); }),
        made("flanger",
             [](Samples& x, Knobs& k) {
                 swing(x, {0.003, 0.002, k.between(0.15, 0.5), 0.7, 0.7, 0.5});
             }),
        {"vibrato pedal", vibratoPedal},
        made("compressor", [](Samples& x, Knobs& k) { compress(x, k.between(-36.0, -26.0), k.between(4.0, 10.0)); }),
        made("gate", [](Samples& x, Knobs& k) { gate(x, 20.0 * std::log10(loudness(x)) - k.between(4.0, 10.0)); }),
        made("wah", [](Samples& x, Knobs& k) { wah(x, k.between(0.4, 2.0)); }),
        made("phaser", [](Samples& x, Knobs& k) { phaser(x, k.between(0.3, 1.5)); }),
        made("tremolo", [](Samples& x, Knobs& k) { tremolo(x, k.between(3.0, 7.0), k.between(0.5, 0.9)); }),
        made("reverb", [](Samples& x, Knobs& k) { reverberate(x, k.between(1.0, 2.5), k.between(-14.0, -6.0)); }),
        made("amp", [](Samples& x, Knobs& k) { amplify(x, k.between(10.0, 40.0)); }),
        made("amp, delay",
             [](Samples& x, Knobs& k) {
                 amplify(x, k.between(15.0, 50.0));
                 echo(x, k.between(0.25, 0.45), k.between(-12.0, -7.0), 0.35);
             }),
        made("lead: amp, chorus, delay, reverb",
             [](Samples& x, Knobs& k) {
                 amplify(x, 20.0);
                 chorus(x, 5.0, k.between(0.6, 1.0), 0.4);
                 echo(x, k.between(0.3, 0.45), -11.0, 0.35);
                 reverberate(x, 1.5, -13.0);
             }),
        made("room",
             [](Samples& x, Knobs& k) { convolve(x, roomResponse(k.between(0.25, 0.5), k.between(0.4, 0.9), k)); }),
        made("room and fan",
             [](Samples& x, Knobs& k) {
                 convolve(x, roomResponse(0.35, k.between(0.4, 0.9), k));
                 addNoise(x, fan(x.size(), k), k.between(15.0, 25.0));
             }),
        {"octave down",
         [](PitchedSound& sound, Knobs& k) {
             octaveDown(sound.samples, k.between(0.3, 0.7));
             for (double& hertz : sound.hertz) hertz *= 0.5;
         },
         -12},
        made("shimmer", [](Samples& x, Knobs& k) { shimmer(x, k.between(1.5, 3.0), k.between(-16.0, -9.0)); }),
        {"feedback",
         [](PitchedSound& sound, Knobs& k) { feedBack(sound, k.between(15.0, 40.0), k.between(0.15, 0.5)); }},
        made("band in the room", [](Samples& x, Knobs& k) { addNoise(x, band(x.size(), k), k.between(14.0, 20.0)); }),
        made("open strings ring along", [](Samples& x, Knobs& k) { sympathetic(x, k.between(-22.0, -14.0)); }),
    };
    return all;
}

PitchedSound through(const Effect& effect, PitchedSound sound, std::uint32_t seed) {
    Knobs knobs(seed);
    effect.apply(sound, knobs);
    const double peak = peakOf(sound.samples);
    if (peak > 0.9) each(sound.samples, [&](double x, std::size_t) { return x * 0.9 / peak; });
    return sound;
}

}  // namespace landfall
