using System.Runtime.InteropServices;

namespace Traceability.Domain.SharedFactors;

/// <summary>What kind of thing units may have in common.</summary>
public enum FactorKind
{
    /// <summary>A lot that was used, named item/lot.</summary>
    Lot,

    /// <summary>A container that was used, named item/lot/container.</summary>
    Container,

    /// <summary>A tool that a step was done with.</summary>
    Tool,

    /// <summary>A station that a step was done at.</summary>
    Station,

    /// <summary>A person who did a step.</summary>
    Person,

    /// <summary>A routing revision that a unit was built under, named item/revision.</summary>
    Revision,
}

/// <summary>Something that units may have in common.</summary>
/// <param name="Kind">What it is.</param>
/// <param name="Name">Which one.</param>
/// <param name="Of">
/// What it is one of, so that a missing record of that leaves it open whether the unit has this one: the item of a lot or container,
/// item/step of a tool, station or person; the item of a revision.
/// </param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct FactorKey(FactorKind Kind, string Name, string Of);

/// <summary>One of the units that are compared, with what it and the units inside it have.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="IsCase">Whether it is one of the failed units; else it is of the comparison.</param>
/// <param name="Has">What records say that it has; each once.</param>
/// <param name="Open">Of what a record is missing, void or undecided: a factor of these that it isn't known to have, it may have.</param>
public sealed record UnitFactors(string Unit, bool IsCase, IReadOnlyCollection<FactorKey> Has, IReadOnlySet<(FactorKind Kind, string Of)> Open);
