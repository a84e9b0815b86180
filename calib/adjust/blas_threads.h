// How many threads the linear algebra library uses.
#pragma once

namespace calib::adjust {

/// From here on the BLAS library of this process computes on the thread that calls it.
///
/// With threads of its own it splits matrices by their number, and the last bits of a result depend
/// on the cores of the machine; it also spins while it waits for them, which beside other busy
/// threads is slower than one: on two busy cores a search for blunders took minutes instead of a
/// second. Does nothing where the library has no such switch.
void use_one_blas_thread();

}  // namespace calib::adjust
