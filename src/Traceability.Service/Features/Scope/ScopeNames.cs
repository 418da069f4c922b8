using Traceability.Domain.Judging;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Scope;

/// <summary>Names of enumerated values as the tables and the answers have them: kebab-case.</summary>
internal static class ScopeNames
{
    private static readonly Dictionary<string, Place> Places = All<Place>();
    private static readonly Dictionary<string, GapKind> Gaps = All<GapKind>();
    private static readonly Dictionary<string, GapReason> Reasons = All<GapReason>();

    public static Place Place(string name) => Places[name];

    public static GapKind Gap(string name) => Gaps[name];

    public static GapReason Reason(string name) => Reasons[name];

    public static string Of<T>(T value)
        where T : struct, Enum => EnumNames<T>.Of(value);

    private static Dictionary<string, T> All<T>()
        where T : struct, Enum => Enum.GetValues<T>().ToDictionary(Of, StringComparer.Ordinal);
}
