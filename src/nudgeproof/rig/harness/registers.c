#include "inside.h"
