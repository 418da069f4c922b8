using System.Collections.Frozen;
using System.Text.Json;

namespace Traceability.Service.Storage;

/// <summary>The name of an enum's value as it is stored and sent: kebab-case, such as in-process. Made once for each enum.</summary>
internal static class EnumNames<T>
    where T : struct, Enum
{
    private static readonly FrozenDictionary<T, string> Names =
        Enum.GetValues<T>().ToFrozenDictionary(v => v, v => JsonNamingPolicy.KebabCaseLower.ConvertName(v.ToString()));

    /// <summary>The name.</summary>
    public static string Of(T value) => Names[value];
}
