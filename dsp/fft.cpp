#include "dsp/fft.h"

#include <kissfft/kiss_fftr.h>

namespace landfall {

static_assert(sizeof(std::complex<float>) == sizeof(kiss_fft_cpx));

struct RealFft::Plans {
    explicit Plans(int size) : ahead(kiss_fftr_alloc(size, 0, nullptr, nullptr)), back(kiss_fftr_alloc(size, 1, nullptr, nullptr)) {}
    ~Plans() {
        kiss_fftr_free(ahead);
        kiss_fftr_free(back);
    }
    Plans(const Plans&) = delete;
    Plans& operator=(const Plans&) = delete;
    kiss_fftr_cfg ahead, back;
};

RealFft::RealFft(int size) : plans(std::make_unique<Plans>(size)) {}
RealFft::~RealFft() = default;
RealFft::RealFft(RealFft&&) noexcept = default;
RealFft& RealFft::operator=(RealFft&&) noexcept = default;

void RealFft::forward(std::span<const float> samples, std::span<std::complex<float>> spectrum) noexcept {
    kiss_fftr(plans->ahead, samples.data(), reinterpret_cast<kiss_fft_cpx*>(spectrum.data()));
}

void RealFft::inverse(std::span<const std::complex<float>> spectrum, std::span<float> samples) noexcept {
    kiss_fftri(plans->back, reinterpret_cast<const kiss_fft_cpx*>(spectrum.data()), samples.data());
}

}  // namespace landfall
