#include "src/practice/note.h"

#include <algorithm>

namespace landfall {

void Note::add(const PitchPoint& point) {
    heard.push_back(point);
    most = std::max(most, point.level);
}

Note Note::unheard() const {
    Note note(number, onset, struck, config);
    note.end = end;
    note.cutByStroke = cutByStroke;
    note.heardUntil = heardUntil;
    return note;
}

std::vector<PitchPoint> Note::cutAt(double time) {
    const auto after = std::find_if(heard.begin(), heard.end(), [time](const PitchPoint& p) { return p.time >= time; });
    std::vector<PitchPoint> rest(after, heard.end());
    if (rest.empty()) return rest;
    const std::vector<PitchPoint> kept(heard.begin(), after);
    *this = unheard();
    for (const PitchPoint& point : kept) add(point);
    return rest;
}

std::span<const Stretch> Note::stretches() const {
    if (heard.size() == readPoints && end == readEnd) return read;
    read = reading.of(heard, onset, struck, end.value_or(heard.empty() ? onset : heard.back().time), config);
    readPoints = heard.size();
    readEnd = end;
    return read;
}

std::optional<double> Note::start() const {
    // after the stroke; a stay that begins past `soon` may be where a bend came to
    constexpr double attack = 0.03, soon = 0.09, latest = 0.25;
    const auto all = stretches();
    const auto stay = std::find_if(all.begin(), all.end(), [](const Stretch& s) { return s.stays(); });
    if (stay == all.end() || stay->begin >= onset + soon)
        if (const auto moving = medianCents(heard, onset + attack, onset + soon, 5)) return moving;
    if (stay == all.end() || stay->begin >= onset + latest) return std::nullopt;
    return stay->state == StretchState::vibrato ? stay->bottom : stay->level;
}

}  // namespace landfall
