using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>What is suspected: the cause whose reach is asked for.</summary>
/// <param name="Lot">The lot that is suspected, or that the suspect is a part of.</param>
public abstract record SuspectFactor(LotKey Lot);

/// <summary>A whole lot is suspected.</summary>
public sealed record SuspectLot(LotKey Lot) : SuspectFactor(Lot)
{
    /// <inheritdoc />
    public override string ToString() => $"lot {Lot}";
}

/// <summary>One container of a lot is suspected.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container.</param>
public sealed record SuspectContainer(LotKey Lot, ContainerNumber Container) : SuspectFactor(Lot)
{
    /// <inheritdoc />
    public override string ToString() => $"container {Container} of lot {Lot}";
}

/// <summary>How sure it is that a suspect factor reached a unit.</summary>
public enum ScopeVerdict
{
    /// <summary>Records say that it was used on this unit or on a unit inside it: so in every way to fill what is missing.</summary>
    Proven,

    /// <summary>A record is missing, void or open, and it could have been used: so in some ways to fill what is missing.</summary>
    Possible,
}
