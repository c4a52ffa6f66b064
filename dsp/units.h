// Quantities that must not be confused: frequencies, intervals, times, levels, pitches. Plain values, any thread.
#pragma once

#include <cmath>
#include <compare>

namespace landfall {

// Frequency in cycles per second; positive where it stands for a pitch.
struct Hertz {
    double value = 0.0;
    constexpr Hertz() = default;
    constexpr explicit Hertz(double hertz) : value(hertz) {}
    constexpr auto operator<=>(const Hertz&) const = default;
};

// Interval; 100 cents are one equal-tempered semitone (Ellis 1885).
struct Cents {
    double value = 0.0;
    constexpr Cents() = default;
    constexpr explicit Cents(double cents) : value(cents) {}
    constexpr auto operator<=>(const Cents&) const = default;
};

// Time or duration.
struct Seconds {
    double value = 0.0;
    constexpr Seconds() = default;
    constexpr explicit Seconds(double seconds) : value(seconds) {}
    constexpr auto operator<=>(const Seconds&) const = default;
};

// Level; as a signal level it is dBFS, 0 = a full-scale sine's root mean square.
struct Decibels {
    double value = 0.0;
    constexpr Decibels() = default;
    constexpr explicit Decibels(double decibels) : value(decibels) {}
    constexpr auto operator<=>(const Decibels&) const = default;
};

// Pitch on the MIDI scale, fractional; 69.0 is the reference A, whatever its frequency.
struct MidiPitch {
    double value = 0.0;
    constexpr MidiPitch() = default;
    constexpr explicit MidiPitch(double midi) : value(midi) {}
    constexpr auto operator<=>(const MidiPitch&) const = default;
};

constexpr double operator/(Hertz a, Hertz b) { return a.value / b.value; }

constexpr Cents operator+(Cents a, Cents b) { return Cents(a.value + b.value); }
constexpr Cents operator-(Cents a, Cents b) { return Cents(a.value - b.value); }
constexpr Cents operator-(Cents a) { return Cents(-a.value); }
constexpr Cents operator*(double factor, Cents a) { return Cents(factor * a.value); }
inline Cents abs(Cents a) { return Cents(std::abs(a.value)); }

constexpr Seconds operator+(Seconds a, Seconds b) { return Seconds(a.value + b.value); }
constexpr Seconds operator-(Seconds a, Seconds b) { return Seconds(a.value - b.value); }
constexpr Seconds operator*(double factor, Seconds a) { return Seconds(factor * a.value); }

constexpr Decibels operator-(Decibels a, Decibels b) { return Decibels(a.value - b.value); }
constexpr Decibels operator+(Decibels a, Decibels b) { return Decibels(a.value + b.value); }

constexpr Cents operator-(MidiPitch a, MidiPitch b) { return Cents(100.0 * (a.value - b.value)); }
constexpr MidiPitch operator+(MidiPitch a, Cents b) { return MidiPitch(a.value + b.value / 100.0); }

// The interval from `from` up to `to`; both positive.
inline Cents interval(Hertz from, Hertz to) { return Cents(1200.0 * std::log2(to / from)); }

// ISO 16:1975 sets A4 = 440 Hz; equal temperament, f = A4 * 2^((m - 69) / 12).
inline constexpr Hertz standardA4{440.0};
inline Hertz frequencyOf(MidiPitch pitch, Hertz a4 = standardA4) {
    return Hertz(a4.value * std::exp2((pitch.value - 69.0) / 12.0));
}
inline MidiPitch pitchOf(Hertz frequency, Hertz a4 = standardA4) {
    return MidiPitch(69.0 + 12.0 * std::log2(frequency / a4));
}

inline namespace literals {
constexpr Hertz operator""_Hz(long double v) { return Hertz(static_cast<double>(v)); }
constexpr Cents operator""_cents(long double v) { return Cents(static_cast<double>(v)); }
constexpr Seconds operator""_s(long double v) { return Seconds(static_cast<double>(v)); }
constexpr Seconds operator""_ms(long double v) { return Seconds(static_cast<double>(v) / 1000.0); }
constexpr Decibels operator""_dB(long double v) { return Decibels(static_cast<double>(v)); }
}  // namespace literals

}  // namespace landfall
