using System.Runtime.InteropServices;

namespace Traceability.Domain.Statistics;

/// <summary>A table of two groups by whether something was present: how many of each.</summary>
/// <param name="CasesWith">Of the cases (failed units): those with it.</param>
/// <param name="CasesWithout">Of the cases: those without it.</param>
/// <param name="OthersWith">Of the comparison: those with it.</param>
/// <param name="OthersWithout">Of the comparison: those without it.</param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct TwoByTwo(int CasesWith, int CasesWithout, int OthersWith, int OthersWithout)
{
    /// <summary>The number of cases.</summary>
    public int Cases => CasesWith + CasesWithout;

    /// <summary>The size of the comparison.</summary>
    public int Others => OthersWith + OthersWithout;

    /// <summary>How many had it.</summary>
    public int With => CasesWith + OthersWith;

    /// <summary>All units.</summary>
    public int Total => Cases + Others;

    /// <summary>Whether it was present in some and absent in some, and both groups have members; else nothing can be told.</summary>
    public bool Varies => With > 0 && With < Total && Cases > 0 && Others > 0;
}
