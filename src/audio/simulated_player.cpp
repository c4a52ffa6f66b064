#include "src/audio/simulated_player.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "src/audio/plucked_string.h"
#include "src/audio/simulated_hand.h"

namespace landfall {

namespace {

// Long enough to be cheap, short enough that a pitch held through it follows a fast bend to a quarter of a cent.
std::size_t controlSamples(double sampleRate) {
    return static_cast<std::size_t>(std::max(8.0, std::round(sampleRate / 1500.0)));
}

double amplitude(Decibels level) { return std::sqrt(2.0) * std::pow(10.0, level.value / 20.0); }

}  // namespace

struct SimulatedPlayer::State {
    Config config;
    std::size_t period;
    SimulatedHand hand;
    std::vector<PluckedString> strings;
    std::vector<float> block;
    std::size_t used;  // of block
    int neighbour = -1;
    double hum = 0.0, scrapeLow = 0.0, scrapeLower = 0.0;
    std::uint32_t noise;

    explicit State(const Config& chosen)
        : config(chosen), period(controlSamples(chosen.sampleRate)),
          hand(chosen, chosen.sampleRate / static_cast<double>(period)), block(period), used(period),
          noise(chosen.seed * 747796405U + 2891336453U) {
        for (int i = 0; i < config.guitar.stringCount(); ++i) {
            const Hertz open = frequencyOf(MidiPitch(hand.openPitch(i)), config.guitar.a4);
            strings.emplace_back(PluckedString::Config{.sampleRate = config.sampleRate,
                                                       .openPitch = open,
                                                       .openStiffness = openStringStiffness(open),
                                                       .seed = config.seed * 31U + static_cast<std::uint32_t>(i) + 1U});
        }
        if (noise == 0U) noise = 1U;
    }

    double white() {
        noise ^= noise << 13U;
        noise ^= noise >> 17U;
        noise ^= noise << 5U;
        return static_cast<double>(noise) / 2147483648.0 - 1.0;
    }

    template <typename Point>
    PluckedString::Position positionOf(const Point& point) const {
        return {frequencyOf(MidiPitch(point.pitch), config.guitar.a4), static_cast<double>(point.fret),
                Cents(static_cast<double>(point.bend))};
    }
    PluckedString::Position openPosition(int string) const {
        return {frequencyOf(MidiPitch(hand.openPitch(string)), config.guitar.a4), 0.0, Cents(0.0)};
    }

    void events(const HandPoint& point) {
        PluckedString& string = strings[static_cast<std::size_t>(point.string)];
        const double attack = config.skill.pickAttack;
        const PluckedString::Stroke stroke{
            .level = static_cast<double>(point.strike), .brightness = attack, .pickNoise = 0.1 + 0.15 * attack};
        if (point.strike > 0.0F) {
            for (PluckedString& other : strings)
                if (&other != &string && !point.ringOn) other.damp(Seconds(0.012));
            string.strike(stroke, positionOf(point));
            neighbour = point.neighbour;
            if (neighbour >= 0) strings[static_cast<std::size_t>(neighbour)].strike(stroke, openPosition(neighbour));
        }
        for (const OtherString& other : point.others) {
            if (other.string < 0) continue;
            PluckedString& its = strings[static_cast<std::size_t>(other.string)];
            if (other.strike > 0.0F)
                its.strike({.level = static_cast<double>(other.strike),
                            .brightness = attack,
                            .pickNoise = 0.1 + 0.15 * attack},
                           positionOf(other));
            if (other.lose > 0.0F) its.loseEnergy(static_cast<double>(other.lose));
        }
        if (point.damp > 0.0F)
            for (PluckedString& each : strings) each.damp(Seconds(static_cast<double>(point.damp)));
        if (point.lose > 0.0F) string.loseEnergy(static_cast<double>(point.lose));
    }

    void renderPeriod() {
        std::fill(block.begin(), block.end(), 0.0F);
        const HandPoint* queuedPoint = hand.next();
        if (queuedPoint == nullptr) {
            hand.skip();
            queuedPoint = hand.at(hand.pointsRead() - 1);
        }
        const HandPoint point = *queuedPoint;
        events(point);
        for (std::size_t i = 0; i < strings.size(); ++i) {
            if (strings[i].silent()) continue;
            const auto other = std::find_if(point.others.begin(), point.others.end(), [i](const OtherString& each) {
                return each.string == static_cast<int>(i);
            });
            if (static_cast<int>(i) == point.string) strings[i].add(block, positionOf(point));
            else if (other != point.others.end()) strings[i].add(block, positionOf(*other));
            else if (static_cast<int>(i) == neighbour) strings[i].add(block, openPosition(neighbour));
            else strings[i].fade(block);
        }
        addNoise(static_cast<double>(point.scrape) + (point.lose > 0.0F ? 0.006 : 0.0));
        if (config.gain > 0.0)
            for (float& sample : block)
                sample = static_cast<float>(0.5 * std::tanh(config.gain * static_cast<double>(sample)));
    }

    void addNoise(double scrape) {
        const double floor = std::sqrt(1.5) * amplitude(config.noiseFloor), hummed = amplitude(config.hum);
        const double step = 2.0 * std::numbers::pi * config.mains.value / config.sampleRate;
        for (float& sample : block) {
            const double w = white();
            // Fingers on windings: noise between about 1 and 6 kHz.
            scrapeLow += 0.5 * (w - scrapeLow);
            scrapeLower += 0.12 * (scrapeLow - scrapeLower);
            hum += step;
            const double mains =
                std::sin(hum) + 0.4 * std::sin(2.0 * hum) + 0.5 * std::sin(3.0 * hum) + 0.2 * std::sin(5.0 * hum);
            sample += static_cast<float>(floor * w + hummed * mains + scrape * (scrapeLow - scrapeLower));
        }
        hum = std::fmod(hum, 2.0 * std::numbers::pi);
    }
};

SimulatedPlayer::SimulatedPlayer(const Config& config) : state(std::make_unique<State>(config)) {}
SimulatedPlayer::~SimulatedPlayer() = default;
SimulatedPlayer::SimulatedPlayer(SimulatedPlayer&&) noexcept = default;
SimulatedPlayer& SimulatedPlayer::operator=(SimulatedPlayer&&) noexcept = default;

void SimulatedPlayer::play(const Move& move, const PlayerWish& wish) { state->hand.play({move}, wish); }
void SimulatedPlayer::play(const std::vector<Move>& steps, const PlayerWish& wish) { state->hand.play(steps, wish); }
void SimulatedPlayer::play(const Line& line, double tempo) { state->hand.playLine(line, tempo); }
void SimulatedPlayer::playOpenString(int string) {
    const MidiPitch open(state->config.guitar.openStrings.at(static_cast<std::size_t>(string - 1)).value
                         + state->config.guitar.capo);
    state->hand.play({Move{Gesture::note, open, open, NeckPlace{string, 0}, {}}},
                     {.firstStopError = Cents(0.0), .hold = Seconds(1.6), .doubleStroke = false});
}
void SimulatedPlayer::noodle(Seconds length, NeckPlace around) { state->hand.noodle(length.value, around); }
void SimulatedPlayer::rest(Seconds length) { state->hand.rest(length.value); }

Seconds SimulatedPlayer::queued() const {
    const std::size_t left = state->period - state->used;
    return Seconds(static_cast<double>(state->hand.pointsQueued() * state->period + left) / state->config.sampleRate);
}

void SimulatedPlayer::read(std::span<float> samples) {
    for (float& sample : samples) {
        if (state->used == state->period) {
            state->renderPeriod();
            state->used = 0;
        }
        sample = state->block[state->used++];
    }
}

const std::vector<MoveTruth>& SimulatedPlayer::truths() const { return state->hand.truths; }

std::optional<Hertz> SimulatedPlayer::firstPartialAt(Seconds time) const {
    if (time.value < 0.0) return std::nullopt;
    const auto number =
        static_cast<std::int64_t>(time.value * state->config.sampleRate / static_cast<double>(state->period));
    const HandPoint* point = state->hand.at(number);
    if (point == nullptr || !point->sounding) return std::nullopt;
    return frequencyOf(MidiPitch(point->pitch), state->config.guitar.a4);
}

}  // namespace landfall
