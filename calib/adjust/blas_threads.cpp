#include "calib/adjust/blas_threads.h"

#include <dlfcn.h>

namespace calib::adjust {

void use_one_blas_thread() {
  // Of OpenBLAS, where that is the BLAS which was installed.
  using SetThreads = void (*)(int);
  void* const found = dlsym(RTLD_DEFAULT, "openblas_set_num_threads");
  if (found) reinterpret_cast<SetThreads>(found)(1);
}

}  // namespace calib::adjust
