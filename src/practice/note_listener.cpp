#include "src/practice/note_listener.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "dsp/statistics.h"

namespace landfall {

namespace {

PitchPoint pointOf(const PitchFrame& frame, Hertz a4) {
    return {.time = frame.centre.value,
            .cents = 100.0 * pitchOf(*frame.pitch, a4).value,
            .sd = frame.sd.value,
            .wander = frame.wander.value,
            .level = frame.level.value};
}

// Whether the pitch went from the first to the last of them as a hand moves it: no step makes half of the way.
bool isWay(Points points) {
    double step = 0.0;
    for (std::size_t i = 1; i < points.size(); ++i)
        step = std::max(step, std::abs(points[i].cents - points[i - 1].cents));
    return step < 0.5 * std::abs(points.back().cents - points.front().cents);
}

}  // namespace

// When the sounding note was struck again, as long as it has not left its place, or as it is back there after a
// landing.
std::optional<double> NoteListener::restruck() const {
    const auto& points = sounding->points();
    if (!sounding->struck || points.size() < 30 || points.back().time - sounding->onset < 0.15 || !strokes.empty())
        return std::nullopt;
    const PitchPoint& last = points.back();
    double unsure = 0.0, at = 0.0;
    std::size_t i = points.size() - 1;
    for (; i > 0 && points[i].time > last.time - config.restruckWithin; --i) {
        if (points[i].ownSd() <= unsure) continue;
        unsure = points[i].ownSd();
        at = points[i].time;
    }
    const double quiet = points[i].ownSd();
    if (last.ownSd() > 0.5 * unsure || at > last.time - 0.015 || unsure < std::max(config.restruckUnsure, 5.0 * quiet))
        return std::nullopt;
    const bool moved = std::abs(last.cents - points[i].cents) > config.restruckPitch;
    if (moved && isWay(std::span(points).subspan(i))) return std::nullopt;
    if (last.level - points[i].level < config.restruckRise || (moved && !hearer->hasLanded())) return std::nullopt;
    const auto start = medianCents(points, sounding->onset + 0.05, sounding->onset + 0.15);
    if (!start || std::abs(last.cents - *start) > config.restruckPitch || at - sounding->onset < 0.1)
        return std::nullopt;
    // In a room or an echo frames are unsure all the time, and levels rise where two copies of the sound meet.
    std::vector<double> usual;
    for (std::size_t k = i; k-- > 0 && points[k].time > points[i].time - config.restruckBefore;)
        usual.push_back(points[k].ownSd());
    if (!usual.empty() && median(std::move(usual)) > config.restruckUnsure) return std::nullopt;
    return at - 0.01;  // the frames grow unsure once the stroke is in their window's middle
}

void NoteListener::onset(const Onset& stroke) {
    doubtful.reset();
    if (!sounding && stroke.time.value <= ownSound && stroke.rise < config.ownRise) doubtful = stroke;
    else struck(stroke);
}

void NoteListener::grew(const Growth& sound) {
    if (!doubtful || doubtful->time != sound.time) return;
    const Onset stroke = *std::exchange(doubtful, std::nullopt);
    if (sound.growth < config.ownGrowth) struck(stroke);
}

void NoteListener::struck(const Onset& stroke) {
    hearer->strokeHeard(stroke, ++notes);
    strokes.push_back({notes, stroke.time.value});
    Note fresh(notes, stroke.time.value, true, config.reader);
    if (soonest)
        for (const PitchPoint& p : soonest->points())
            if (p.time >= fresh.onset) fresh.add(p);
    soonest = std::move(fresh);
}

void NoteListener::begin(Note fresh) {
    sounding = std::move(fresh);
    sinceTold = 0;
    struckLevel = -140.0;
    hearer->noteBegan();
}

void NoteListener::end(bool rings) {
    if (sounding) hearer->noteEnded(*std::exchange(sounding, std::nullopt), rings);
}

// The settled stream has come to a stroke.
void NoteListener::strike(const Stroke& stroke) {
    if (sounding && sounding->struck && stroke.time - sounding->onset < config.doubleStroke) return;
    Note fresh(stroke.note, stroke.time, true, config.reader);
    if (sounding) {
        sounding->end = stroke.time;
        sounding->cutByStroke = true;
        for (const PitchPoint& point : sounding->cutAt(stroke.time)) fresh.add(point);  // where it was known late
    }
    end();
    begin(std::move(fresh));
    unstruck.clear();
}

void NoteListener::grow(const PitchFrame& frame) {
    sounding->heardUntil = clock;
    if (clock - sounding->onset < config.attack) struckLevel = std::max(struckLevel, frame.level.value);
    if (frame.pitch) sounding->add(pointOf(frame, config.a4));
    const bool silent = sounding->points().empty();  // a slow low string needs its time to show a pitch
    const double last = silent ? sounding->onset + 0.35 : sounding->points().back().time;
    const bool fallen = silent || frame.level.value < sounding->points().back().level - config.levelLost;
    if (clock - last > (fallen ? config.noteLost : config.pitchLost) || clock - sounding->onset > config.noteMost) {
        sounding->end = silent ? sounding->onset : last;
        end(silent && frame.level.value > struckLevel - config.ringsWithin && frame.level.value < struckLevel);
    } else if (frame.pitch && ++sinceTold >= 4) {
        sinceTold = 0;
        hearer->noteGrew();
    }
}

// A pitch without a stroke.
void NoteListener::appear(const PitchFrame& frame) {
    if (!frame.pitch || clock <= ownSound) return unstruck.clear();
    if (!unstruck.empty() && clock - unstruck.back().time > 0.03) unstruck.clear();
    unstruck.push_back(pointOf(frame, config.a4));
    if (clock - unstruck.front().time < config.noteAppears) return;
    Note fresh(++notes, unstruck.front().time, false, config.reader);
    fresh.heardUntil = clock;
    for (const PitchPoint& point : std::exchange(unstruck, {})) fresh.add(point);
    if (!soonest || soonest->onset < fresh.onset - 0.5) soonest = fresh;
    begin(std::move(fresh));
}

void NoteListener::settled(const PitchFrame& frame) {
    clock = frame.centre.value;
    if (sounding)
        if (const auto again = restruck()) onset({frame.available, Seconds(*again), Decibels(0.0)});
    while (!strokes.empty() && strokes.front().time <= clock) {
        const Stroke stroke = strokes.front();
        strokes.pop_front();
        strike(stroke);
    }
    if (sounding) grow(frame);
    else appear(frame);
}

void NoteListener::provisional(const PitchFrame& frame) {
    if (!soonest || !frame.pitch || frame.centre.value < soonest->onset) return;
    soonest->add(pointOf(frame, config.a4));
    soonest->heardUntil = frame.centre.value;
    if (frame.centre.value - soonest->onset <= config.noteMost) hearer->earlyGrew(frame);
}

void NoteListener::finish() {
    if (!sounding) return;
    sounding->end = sounding->points().empty() ? sounding->onset : sounding->points().back().time;
    end();
}

}  // namespace landfall
