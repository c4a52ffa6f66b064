// An ear for second strings that has no sound to hear.
#pragma once

#include "src/practice/beside.h"

inline const landfall::BesideEar& deafEar() {
    static const landfall::KeptSound silence(48000.0);
    static landfall::VoiceTracker voices({.sampleRate = silence.rate()});
    static const landfall::BesideEar ear(silence, voices, landfall::standardA4);
    return ear;
}
