namespace Traceability.Domain.Primitives;

/// <summary>One thing that is wrong with what was sent.</summary>
/// <param name="Pointer">Where: a JSON pointer (RFC 6901) into the body, "" for the whole.</param>
/// <param name="Detail">What is wrong and what would be right, for a person.</param>
public sealed record Fault(string Pointer, string Detail);

/// <summary>Why a fact was refused. Nothing of it is recorded.</summary>
/// <param name="Code">Stable kebab-case code that clients branch on; listed in contracts/problems.json.</param>
/// <param name="Kind">Which kind of refusal it is; the service turns it into a status.</param>
/// <param name="Detail">A sentence for the person at the station: what is wrong and what to do next.</param>
/// <param name="Faults">The places, where the refusal has some.</param>
public sealed record Refusal(string Code, RefusalKind Kind, string Detail, ImmutableArray<Fault> Faults)
{
    /// <summary>Makes a refusal that points at no place.</summary>
    public static Refusal Of(string code, RefusalKind kind, string detail) => new(code, kind, detail, []);

    /// <summary>Makes a refusal that points at one place.</summary>
    public static Refusal At(string code, RefusalKind kind, string pointer, string detail) =>
        new(code, kind, detail, [new Fault(pointer, detail)]);
}

/// <summary>The kinds of refusal of the domain brief: only these are refused.</summary>
public enum RefusalKind
{
    /// <summary>What was sent can't be read as what it says it is.</summary>
    Malformed,

    /// <summary>It names something that is not known here.</summary>
    Unknown,

    /// <summary>It would contradict what is already recorded.</summary>
    Contradiction,

    /// <summary>The sender may not say this.</summary>
    Unauthorised,
}
