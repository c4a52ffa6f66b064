#include "src/audio/player_skill.h"

namespace landfall {

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
    skill.missedChance = 0.06;
    skill.doubleStrokeChance = 0.05;
    skill.pickAttack = 0.4;
    skill.habits = {.beginsAgain = 0.02, .hesitates = 0.03, .lingers = 0.2};
    return skill;
}

}  // namespace landfall
