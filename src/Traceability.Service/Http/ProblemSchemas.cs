using System.Text.Json.Nodes;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.SwaggerGen;

namespace Traceability.Service.Http;

/// <summary>Describes the problem document, which every answer from 400 up is, and the tags in their order.</summary>
internal sealed class ProblemSchemas : IDocumentFilter
{
    /// <summary>Name of the schema.</summary>
    public const string Problem = "Problem";

    private const string Place = "ProblemError";

    /// <inheritdoc />
    public void Apply(OpenApiDocument swaggerDoc, DocumentFilterContext context)
    {
        var components = swaggerDoc.Components ??= new();
        var schemas = components.Schemas ??= new Dictionary<string, IOpenApiSchema>(StringComparer.Ordinal);
        schemas.Remove("ProblemDetails");
        schemas[Place] = Object(
            "One place that is wrong.",
            ("pointer", Text("JSON pointer (RFC 6901) into the body; for a query or path value, its name.", "/unit/serial")),
            ("detail", Text("What is wrong and what would be right.", null)));
        schemas[Problem] = Object(
            "A problem document (RFC 9457).",
            ("type", Text("/problems/ and the code.", "/problems/key-missing")),
            ("title", Text("What the kind of problem means, the same each time.", null)),
            ("status", new OpenApiSchema { Type = JsonSchemaType.Integer, Description = "The HTTP status." }),
            ("detail", Text("What is wrong this time and what to do next.", null)),
            ("code", Text("Stable code to branch on.", "key-missing")),
            ("errors", new OpenApiSchema
            {
                Type = JsonSchemaType.Array,
                Items = new OpenApiSchemaReference(Place, swaggerDoc),
                Description = "Every place that is wrong, at once.",
            }),
            ("traceId", Text("Under this id the service's traces and logs know the request.", "4bf92f3577b34da6a3ce929d0e0e4736")));
        Sort(schemas);
        var tags = swaggerDoc.Paths.Values.SelectMany(p => p.Operations ?? []).Select(o => o.Value).SelectMany(o => o.Tags ?? new HashSet<OpenApiTagReference>()).Select(t => t.Name).OfType<string>();
        swaggerDoc.Tags = tags.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).Select(t => new OpenApiTag { Name = t }).ToHashSet();
    }

    private static void Sort(IDictionary<string, IOpenApiSchema> schemas)
    {
        var sorted = schemas.OrderBy(s => s.Key, StringComparer.Ordinal).ToArray();
        schemas.Clear();
        foreach (var (name, schema) in sorted)
        {
            schemas.Add(name, schema);
        }
    }

    private static OpenApiSchema Text(string description, string? example) =>
        new() { Type = JsonSchemaType.String, Description = description, Examples = example is null ? null : [JsonValue.Create(example)] };

    private static OpenApiSchema Object(string description, params (string Name, IOpenApiSchema Schema)[] members) => new()
    {
        Type = JsonSchemaType.Object,
        Description = description,
        Required = members.Where(m => m.Name != "traceId" && m.Name != "errors").Select(m => m.Name).ToHashSet(StringComparer.Ordinal),
        Properties = members.ToDictionary(m => m.Name, m => m.Schema, StringComparer.Ordinal),
    };
}
