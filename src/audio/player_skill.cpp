#include "src/audio/player_skill.h"

#include <algorithm>
#include <cctype>

#include <fmt/core.h>

namespace landfall {

PlayerSkill exactPlayer() {
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

PlayerSkill ines() {
    PlayerSkill skill;
    skill.name = "Ines";
    skill.bias = Cents(-32.0);
    skill.biasLeft = Cents(-8.0);
    skill.triesToLearn = 60.0;
    skill.spread = Cents(12.0);
    skill.correctionChance = 0.35;
    skill.rise = Seconds(0.30);
    skill.early = 1.15;
    skill.sagBias = Cents(9.0);
    skill.sagSpread = Cents(5.0);
    skill.slidePerFret = Seconds(0.055);
    skill.overshootChance = 0.08;
    skill.wrongFretChance = 0.06;
    skill.otherIntervalChance = 0.03;
    skill.diedChance = 0.05;
    skill.doubleStrokeChance = 0.05;
    skill.pickAttack = 0.4;
    return skill;
}

PlayerSkill tobi() {
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

PlayerSkill noor() {
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

Result<PlayerSkill> studentNamed(std::string_view name) {
    std::string lower(name);
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    if (lower == "ines") return ines();
    if (lower == "tobi") return tobi();
    if (lower == "noor") return noor();
    if (lower == "exact") return exactPlayer();
    return Error{Error::Code::notFound,
                 fmt::format("no simulated student is called \"{}\": choose Ines, Tobi, Noor or exact", name)};
}

}  // namespace landfall
