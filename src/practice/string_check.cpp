#include "src/practice/string_check.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "dsp/statistics.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

constexpr double settle = 0.150;        // s after the stroke: a hard pick stroke starts sharp
constexpr double steadyLength = 0.350;  // s
constexpr double steadySpread = 8.0;    // cents, highest less lowest; an open string's glide has ended by then
constexpr double newNote = 60.0;        // cents away from the stretch

constexpr double askedReach = 250.0;   // cents that the string asked for may be off: a whole step and a bit
constexpr double otherReach = 60.0;    // cents that another open string may be off to be taken for itself
constexpr double askedFavour = 100.0;  // cents by which the asked string may be further than another

constexpr double halfStepReach = 45.0;  // cents around a half or whole step that are still that tuning
constexpr double sameSpread = 8.0;      // cents within which "all strings alike" points at the reference pitch
constexpr double worthAnOffer = 12.0;   // cents; less is quicker tuned than answered

Cents offsetFrom(const Guitar& guitar, int string, Hertz pitch) {
    return interval(frequencyOf(pitchAt(guitar, {string, 0}), guitar.a4), pitch);
}

}  // namespace

void HeldNoteFinder::onset(const Onset& stroke) {
    began = stroke.time;
    told = false;
    stretch.clear();
}

std::optional<HeldNote> HeldNoteFinder::frame(const PitchFrame& frame) {
    if (!frame.pitch) {
        began.reset();
        told = false;
        stretch.clear();
        return {};
    }
    if (!stretch.empty() && abs(interval(*stretch.back().pitch, *frame.pitch)).value > newNote) {
        began = frame.centre;
        told = false;
        stretch.clear();
    }
    if (!began) began = frame.centre;
    if (frame.centre.value < began->value + settle) return {};
    stretch.push_back(frame);
    while (stretch.size() > 1 && frame.centre.value - stretch[1].centre.value >= steadyLength) stretch.pop_front();
    if (told || frame.centre.value - stretch.front().centre.value < steadyLength) return {};
    std::vector<double> cents;
    for (const PitchFrame& each : stretch) cents.push_back(interval(*stretch.front().pitch, *each.pitch).value);
    const auto [lowest, highest] = std::minmax_element(cents.begin(), cents.end());
    if (*highest - *lowest > steadySpread) return {};
    told = true;
    double sum = 0.0;
    const double middle = median(cents);
    for (const double each : cents) sum += (each - middle) * (each - middle);
    return HeldNote{frame.centre, Hertz(stretch.front().pitch->value * std::exp2(middle / 1200.0)),
                    Cents(std::sqrt(sum / static_cast<double>(cents.size())))};
}

const std::vector<HeldNote>& HeldNoteEar::hear(std::span<const float> samples) {
    notes.clear();
    for (; !samples.empty(); samples = samples.subspan(std::min(PitchTracker::maxBlockSamples, samples.size()))) {
        const auto output = tracker.process(samples.first(std::min(PitchTracker::maxBlockSamples, samples.size())));
        for (const Onset& stroke : output.onsets) finder.onset(stroke);
        for (const PitchFrame& frame : output.settled)
            if (const auto note = finder.frame(frame)) notes.push_back(*note);
    }
    return notes;
}

std::string tuningAdvice(const Guitar& guitar, int string, Cents offset) {
    const std::string name = stringName(guitar, string);
    const double size = std::abs(offset.value);
    if (size <= StringCheck::inTuneCents) return name + " in tune";
    const bool under = offset.value < 0.0;
    const char* turn = under ? "tighten" : "loosen";
    if (size <= 20.0) return fmt::format("{} {:.0f} {}: {} it a little", name, size, under ? "under" : "over", turn);
    if (size <= 60.0) return fmt::format("{} {:.0f} {}: {} it", name, size, under ? "under" : "over", turn);
    const char* far = size < 150.0 ? "about a half step" : "about a whole step";
    return fmt::format("{} {} {}: {} it slowly{}", name, far, under ? "under" : "over", turn,
                       under ? ", eyes away from the string" : "");
}

StringCheck::StringCheck(Guitar guitar)
    : current(std::move(guitar)), strings(static_cast<std::size_t>(current.stringCount())) {}

void StringCheck::hear(const HeldNote& note) {
    const int wanted = asked();
    int heard = 0;
    double nearest = 0.0;
    for (int string = 1; string <= current.stringCount(); ++string) {
        const double off = std::abs(offsetFrom(current, string, note.pitch).value);
        if (off > (string == wanted ? askedReach : otherReach)) continue;
        const double distance = string == wanted ? off - askedFavour : off;
        if (heard == 0 || distance < nearest) {
            heard = string;
            nearest = distance;
        }
    }
    if (heard == 0) {
        const std::string name = wanted > 0 ? stringName(current, wanted) : "string";
        const double off = wanted > 0 ? offsetFrom(current, wanted, note.pitch).value : 0.0;
        const double octaves = std::round(off / 1200.0);
        if (wanted > 0 && octaves != 0.0 && std::abs(off - 1200.0 * octaves) <= otherReach)
            said = fmt::format("That was an octave {} the {}. Play it open, on its own",
                               octaves > 0 ? "above" : "below", name);
        else said = fmt::format("That was not the {}. Play it open, on its own", name);
        return;
    }
    Reading& reading = strings[static_cast<std::size_t>(heard - 1)];
    reading.offset = offsetFrom(current, heard, note.pitch);
    reading.skipped = false;
    last = heard;
    said = capitalised(tuningAdvice(current, heard, *reading.offset));
    look();
}

void StringCheck::skip() {
    const int string = asked();
    if (string == 0) return;
    strings[static_cast<std::size_t>(string - 1)].skipped = true;
    said = fmt::format("{} left as it is", capitalised(stringName(current, string)));
    look();
}

int StringCheck::asked() const {
    for (int string = current.stringCount(); string >= 1; --string) {
        const Reading& reading = strings[static_cast<std::size_t>(string - 1)];
        if (!reading.offset && !reading.skipped) return string;
    }
    const auto out = [this](int string) {
        const Reading& reading = strings[static_cast<std::size_t>(string - 1)];
        return !reading.skipped && std::abs(reading.offset->value) > inTuneCents;
    };
    if (last > 0 && out(last)) return last;  // one string until it is right
    for (int string = current.stringCount(); string >= 1; --string)
        if (out(string)) return string;
    return 0;
}

std::string StringCheck::prompt() const {
    if (offered) return offered->question;
    const int string = asked();
    if (string == 0) {
        std::string left;
        for (int each = current.stringCount(); each >= 1; --each)
            if (strings[static_cast<std::size_t>(each - 1)].skipped)
                left += (left.empty() ? "" : ", ") + stringName(current, each);
        return left.empty() ? "Every string is in tune." : "Ready. Left as it is: " + left + ".";
    }
    const Reading& reading = strings[static_cast<std::size_t>(string - 1)];
    if (reading.offset) return capitalised(tuningAdvice(current, string, *reading.offset)) + ", then play it again";
    return fmt::format("Play the {}, open{}", stringName(current, string),
                       current.capo > 0 ? fmt::format(", with the capo on {}", current.capo) : "");
}

void StringCheck::look() { offered = fitting(); }

std::optional<StringCheck::Offer> StringCheck::fitting() const {
    std::vector<double> offsets;
    bool everyString = true;
    for (const Reading& reading : strings) {
        if (reading.offset && !reading.skipped) offsets.push_back(reading.offset->value);
        everyString = everyString && (reading.offset || reading.skipped);
    }
    if (offsets.size() < 3) return {};
    const auto near = [](double offset, double centre) { return std::abs(offset - centre) <= halfStepReach; };
    const auto isOpen = [this](const Offer& offer) {
        return std::find(declined.begin(), declined.end(), offer.kind) == declined.end() && checkGuitar(offer.guitar);
    };

    // One that somebody gave a name keeps it.
    const auto nameAfterTuning = [this](Guitar& guitar) {
        if (current.name == tuningName(current.openStrings)) guitar.name = tuningName(guitar.openStrings);
    };

    for (const int semitones : {-1, -2}) {
        if (!std::all_of(offsets.begin(), offsets.end(),
                         [&](double offset) { return near(offset, 100.0 * semitones); }))
            continue;
        const bool half = semitones == -1;
        Offer offer{half ? Offer::Kind::halfStepDown : Offer::Kind::wholeStepDown, current, "", ""};
        for (MidiPitch& string : offer.guitar.openStrings) string.value += semitones;
        nameAfterTuning(offer.guitar);
        offer.question = fmt::format("All strings are a {} step low. Is the guitar tuned that way ({})?",
                                     half ? "half" : "whole", tuningName(offer.guitar.openStrings));
        offer.brief = half ? "Half step down?" : "Whole step down?";
        if (isOpen(offer)) return offer;
    }

    const Reading& lowest = strings.back();
    if (lowest.offset && !lowest.skipped && near(lowest.offset->value, -200.0)
        && std::all_of(offsets.begin(), std::prev(offsets.end()), [&](double offset) { return near(offset, 0.0); })) {
        Offer offer{Offer::Kind::lowestStringDown, current, "", ""};
        offer.guitar.openStrings.back().value -= 2.0;
        nameAfterTuning(offer.guitar);
        offer.question = fmt::format("Only the lowest string is a whole step low. Is this {}?",
                                     tuningName(offer.guitar.openStrings));
        offer.brief = "Lowest string down?";
        if (isOpen(offer)) return offer;
    }

    const auto [least, most] = std::minmax_element(offsets.begin(), offsets.end());
    const double middle = median(offsets);
    if (everyString && *most - *least <= 2.0 * sameSpread && std::abs(middle) > worthAnOffer) {
        Offer offer{Offer::Kind::referencePitch, current, "", ""};
        offer.guitar.a4 = Hertz(std::round(current.a4.value * std::exp2(middle / 1200.0)));
        offer.question =
            fmt::format("Every string is about {:.0f} {}. Do you tune to A4 = {:g} Hz instead of {:g}?",
                        std::abs(middle), middle < 0.0 ? "under" : "over", offer.guitar.a4.value, current.a4.value);
        offer.brief = fmt::format("A4 {:g} Hz?", offer.guitar.a4.value);
        if (isOpen(offer)) return offer;
    }
    return {};
}

void StringCheck::acceptOffer() {
    if (!offered) return;
    for (int string = 1; string <= current.stringCount(); ++string) {
        auto& offset = strings[static_cast<std::size_t>(string - 1)].offset;
        if (offset)
            offset = offsetFrom(offered->guitar, string,
                                Hertz(frequencyOf(pitchAt(current, {string, 0}), current.a4).value
                                      * std::exp2(offset->value / 1200.0)));
    }
    current = offered->guitar;
    last = 0;
    said = "Now: " + describeGuitar(current);
    look();
}

void StringCheck::declineOffer() {
    if (!offered) return;
    declined.push_back(offered->kind);
    look();
}

}  // namespace landfall
