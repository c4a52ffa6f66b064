#include "src/practice/muted_strokes.h"

#include <algorithm>

namespace landfall {

void MutedStrokes::judge(Seconds now) {
    if (!judged || (now - judged->at).value < config.to) return;
    const Stroke stroke = *judged;
    judged.reset();
    if (stroke.frames == 0 || stroke.pitched > config.mostPitched * stroke.frames || peak < config.quietest) {
        muted.reset();
    } else if (muted && (stroke.at - *muted).value <= config.within) {
        muted.reset();
        ++counted;
    } else {
        muted = stroke.at;
    }
}

void MutedStrokes::hear(const ListenerEvent& event) {
    if (const auto* level = std::get_if<InputLevel>(&event)) {
        judge(level->at);
        // a stroke lies in the tenth that ended last, or in the one that goes on
        peak = std::max(level->peak, peak - Decibels(6.0));
    }
    if (const auto* stroke = std::get_if<PickStroke>(&event)) {
        // one so soon after another that nothing is known of it is a roll, not a sign
        muted = judged ? std::nullopt : muted;
        judged = Stroke{stroke->onset.time};
    }
    if (const auto* live = std::get_if<LivePitch>(&event); live && judged) {
        const double since = (live->frame.centre - judged->at).value;
        if (since < config.from) return;
        judged->frames += since <= config.to ? 1 : 0;
        judged->pitched += since <= config.to && live->frame.pitch ? 1 : 0;
        judge(live->frame.centre);
    }
}

}  // namespace landfall
