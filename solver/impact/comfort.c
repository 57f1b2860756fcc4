#include "solver/impact/comfort.h"

#include "solver/base/numeric.h"

struct comfort_law comfort_default(double contact)
{
    return (struct comfort_law){.pressure = 18e3, .loss = 0.5, .contact = contact};
}

/* Curve, slope and integral in units of p40 and h, for x = c/h in [0, COMFORT_SHUT]. */
static double curve(double x)
{
    return 1 - numeric_exp(-x / COMFORT_KNEE) + x * x * x * x / (1 - x / COMFORT_POLE);
}

static double curve_slope(double x)
{
    double rest = 1 - x / COMFORT_POLE;
    return numeric_exp(-x / COMFORT_KNEE) / COMFORT_KNEE + 4 * x * x * x / rest +
           x * x * x * x / (COMFORT_POLE * rest * rest);
}

/* With b the pole, x^4/(1 - x/b) = b [b^4/(b - x) - (x^3 + b x^2 + b^2 x + b^3)], integrated term by term. */
static double curve_work(double x)
{
    double b = COMFORT_POLE;
    double knee = x - COMFORT_KNEE * (1 - numeric_exp(-x / COMFORT_KNEE));
    double polynomial = x * (b * b * b + x * (b * b / 2 + x * (b / 3 + x / 4)));
    return knee + b * (-b * b * b * b * numeric_log(1 - x / b) - polynomial);
}

double comfort_stiffest(const struct comfort_law *law, double thickness)
{
    if (thickness <= 0)
        return law->contact;
    double tangent = law->pressure * curve_slope(COMFORT_SHUT) / thickness;
    return tangent > law->contact ? tangent : law->contact;
}

double comfort_pressure(const struct comfort_law *law, double thickness, double closure)
{
    double shut = COMFORT_SHUT * thickness, stiff = comfort_stiffest(law, thickness);
    if (closure <= 0)
        return 0;
    if (thickness <= 0)
        return stiff * closure;
    if (closure <= shut)
        return law->pressure * curve(closure / thickness);
    return law->pressure * curve(COMFORT_SHUT) + stiff * (closure - shut);
}

double comfort_work(const struct comfort_law *law, double thickness, double closure)
{
    double shut = COMFORT_SHUT * thickness, stiff = comfort_stiffest(law, thickness), over = closure - shut;
    if (closure <= 0)
        return 0;
    if (thickness <= 0)
        return 0.5 * stiff * closure * closure;
    if (closure <= shut)
        return law->pressure * thickness * curve_work(closure / thickness);
    return law->pressure * (thickness * curve_work(COMFORT_SHUT) + over * curve(COMFORT_SHUT)) +
           0.5 * stiff * over * over;
}

double comfort_contact(const struct comfort_law *law, double thickness, double closure)
{
    double shut = COMFORT_SHUT * thickness, over = closure > shut ? closure - shut : 0;
    return 0.5 * comfort_stiffest(law, thickness) * over * over;
}

double comfort_spring(const struct comfort_law *law, double thickness, double closure)
{
    double contact = comfort_contact(law, thickness, closure);
    double share = thickness > 0 ? 1 - law->loss : 1;
    return share * (comfort_work(law, thickness, closure) - contact) + contact;
}

void comfort_update(const struct comfort_law *law, const struct comfort_rings *rings)
{
    static void (*const update[ISA_COUNT])(const struct comfort_law *, const struct comfort_rings *) = {
        comfort_update_base, comfort_update_v3, comfort_update_v4};
    update[isa_chosen()](law, rings);
}
