// Simulated students beside the demo's own: one without error, chance or drift, one who is quick, and one who is good.
#pragma once

#include "src/audio/player_skill.h"

namespace landfall {

inline PlayerSkill exactPlayer() {
    PlayerSkill skill;
    skill.name = "exact";
    skill.spread = skill.setupSpread = skill.driftPerSecond = skill.sagBias = skill.sagSpread = skill.shoot =
        Cents(0.0);
    skill.vibratoSpread = Cents(0.0);
    skill.correctionChance = 0.0;
    skill.riseSpread = skill.startSpread = skill.holdSpread = Seconds(0.0);
    skill.earlySpread = skill.loudnessSpread = 0.0;
    return skill;
}

// Quick, shoots over, sometimes another interval.
inline PlayerSkill tobi() {
    PlayerSkill skill;
    skill.name = "Tobi";
    skill.bias = Cents(18.0);
    skill.biasLeft = Cents(10.0);
    skill.triesToLearn = 120.0;
    skill.spread = Cents(14.0);
    skill.correctionChance = 0.5;
    skill.rise = Seconds(0.15);
    skill.riseSpread = Seconds(0.03);
    skill.early = 0.9;
    skill.shoot = Cents(14.0);
    skill.start = Seconds(0.28);
    skill.hold = Seconds(0.9);
    skill.slidePerFret = Seconds(0.028);
    skill.overshootChance = 0.2;
    skill.wrongFretChance = 0.05;
    skill.otherIntervalChance = 0.06;
    skill.diedChance = 0.04;
    skill.doubleStrokeChance = 0.08;
    skill.vibratoWidth = Cents(48.0);
    skill.vibratoRate = Hertz(6.2);
    skill.loudness = 0.22;
    skill.pickAttack = 0.8;
    return skill;
}

// Careful and good.
inline PlayerSkill noor() {
    PlayerSkill skill;
    skill.name = "Noor";
    skill.bias = Cents(-3.0);
    skill.biasLeft = Cents(-1.0);
    skill.triesToLearn = 80.0;
    skill.spread = Cents(5.0);
    skill.correctionChance = 0.8;
    skill.rise = Seconds(0.26);
    skill.sagBias = Cents(2.0);
    skill.sagSpread = Cents(2.0);
    skill.overshootChance = 0.02;
    skill.wrongFretChance = 0.01;
    skill.otherIntervalChance = 0.01;
    skill.diedChance = 0.01;
    skill.doubleStrokeChance = 0.01;
    return skill;
}

}  // namespace landfall
